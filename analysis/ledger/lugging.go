package ledger

import (
	"math"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
)

// The cadence in rpm within which another gear counts as one that the rider
// could have used: the legs' usual band of 70 to 95 rpm, widened by common
// practice.
const (
	slowestRPM = 60
	fastestRPM = 100
)

// EdgeDoubt is the half-width in Wh of the 90 % range by which the loss of
// Lugging may be off because a log tells seconds: a spell of lugging begins and
// ends within a second, and of that second's loss anything from none to all may
// be real. The ends err apart from each other.
func EdgeDoubt(perSecond []float64) float64 {
	square := 0.0
	for s, w := range perSecond {
		if !(w > 0) {
			continue
		}
		for _, next := range []int{s - 1, s + 1} {
			if next < 0 || next == len(perSecond) || !(perSecond[next] > 0) {
				square += w * w
			}
		}
	}
	return doubt.HalfWidth(doubt.Rounding(2*math.Sqrt(square))) / 3600
}

// Lugging is the energy lost to lugging: in each lugging second what the
// battery's cells gave, less what they would have given in the best gear of
// this bike for the same wheel speed, wheel power and leg power. The gear must
// keep the drive's limits and the cadence within 60 to 100 rpm; a rider
// already outside may be left where he is or brought closer, not taken
// further. Where no gear is better the loss is zero.
//
// wh is the sum over the ride, perSecond in W with one value a second, zero
// where the motor does not lug.
func Lugging(d *drive.Series, m *drive.Matrix, p *bike.Profile) (wh float64, perSecond []float64) {
	perSecond = make([]float64, m.Seconds)
	perCadence := drive.NewUnit(p).SpeedAtCadence(1)
	for s, class := range d.Class {
		if class != drive.Lugging {
			continue
		}
		slow, fast := float64(slowestRPM), float64(fastestRPM)
		if ridden := d.MotorSpeed[s] / perCadence; !math.IsNaN(ridden) {
			slow, fast = min(slow, ridden), max(fast, ridden)
		}
		given := d.Terminal[s] + d.BatteryHeat[s]
		least := given
		for g := range m.Gears {
			if m.Limits[m.At(s, g)] != drive.NoLimit {
				continue
			}
			if rpm := m.CadenceRPM(s, g); rpm < slow || rpm > fast {
				continue
			}
			if stored := m.Stored(s, g); stored < least {
				least = stored
			}
		}
		perSecond[s] = given - least
		wh += perSecond[s] / 3600
	}
	return wh, perSecond
}
