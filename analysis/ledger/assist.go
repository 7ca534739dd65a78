package ledger

import "math"

// AssistRate is the motor's part of the riding: battery energy over battery
// and rider together, Pe/(Pe + Ph) (Fuchs 2005, Human Power eJournal 09-02).
// NaN where either side of the books lacks its first lines.
func (b Books) AssistRate() float64 {
	electric, human := line(b.Battery, Store)-line(b.Battery, Charged), line(b.Wheel, FromLegs)
	if total := electric + human; total > 0 {
		return electric / total
	}
	return math.NaN()
}

// AssistFactor is how much the battery adds to each watt-hour of the rider's,
// R/(1-R) with R the rate; NaN where the legs gave less than a thousandth.
func (b Books) AssistFactor() float64 {
	r := b.AssistRate()
	if !(1-r > 1e-3) {
		return math.NaN()
	}
	return r / (1 - r)
}

// line is an account's energy, 0 where the books do not have it.
func line(accounts []Account, name string) float64 {
	for _, a := range accounts {
		if a.Name == name {
			return a.Wh
		}
	}
	return 0
}
