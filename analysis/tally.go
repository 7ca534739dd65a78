package analysis

import (
	"math"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/ingest/ride"
)

// tally counts time and energy by class and by gear.
func (res *Result) tally() {
	list := res.Bike.Gears()
	res.PerGear = make([]GearTally, len(list))
	motor, loaded := make([]float64, len(list)), make([]int, len(list))
	crank, pedalled := make([]float64, len(list)), make([]int, len(list))
	for i := range res.Ride.Len() {
		if res.Ride.Paused(i) {
			continue
		}
		class, wh := res.Drive.Class[i], known(res.Drive.Terminal[i])/joulesPerWh
		res.Classes[class].Seconds++
		res.Classes[class].Wh += wh
		legs := res.Drive.LegsClass[i]
		res.Legs[legs]++
		if class == drive.Lugging && legs == drive.LegsLugging {
			res.BothLug++
		}
		g := res.Gears.Index[i]
		if g == gears.Unknown {
			continue
		}
		t := &res.PerGear[g]
		t.Seconds++
		t.Wh += wh
		if class == drive.Lugging {
			t.LuggingSeconds++
		}
		if speed := res.Drive.MotorSpeed[i]; class.Loaded() && !math.IsNaN(speed) {
			motor[g] += speed
			loaded[g]++
		}
		if rpm := res.Ride.At(ride.CadenceRPM, i); rpm > 0 {
			crank[g] += rpm
			pedalled[g]++
		}
	}
	for g := range res.PerGear {
		res.PerGear[g].Gear = list[g]
		res.PerGear[g].MeanMotorRPM = mean(motor[g], loaded[g]) * radPerSecondInRPM
		res.PerGear[g].MeanCadence = mean(crank[g], pedalled[g])
	}
	if !res.Bears.Motor.Given() { // not known, which is not none
		for g := range res.PerGear {
			res.PerGear[g].Wh = math.NaN()
		}
		for c := range res.Classes {
			res.Classes[c].Wh = math.NaN()
		}
	}
}

const radPerSecondInRPM = 60 / (2 * math.Pi)

// known is v, or nothing where v is unknown: for sums that say beside them how
// much they leave out.
func known(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return v
}

func mean(sum float64, n int) float64 {
	if n == 0 {
		return math.NaN()
	}
	return sum / float64(n)
}

// assumptions lists every number of the profile that the result rests on, and
// what the stages learnt from the ride in its place.
func assumptions(p *bike.Profile, inf *gears.Inference, d *drive.Series) []Assumption {
	var all []Assumption
	circumference := Assumption{Name: "wheel.circumference", Value: inf.Circumference, Unit: "m", Source: "calibrated by this ride"}
	switch {
	case inf.CircumferenceFromRide:
	case p.Wheel.RolloutMM > 0:
		circumference.Source = "profile"
	default:
		circumference.Source = "tyre table"
	}
	all = append(all, circumference)
	for _, n := range bike.Numbers() {
		a := Assumption{Name: n.Key, Value: n.In(p), Unit: n.Unit, Source: string(p.OriginOf(n.Key))}
		if a.Value == 0 && n.Least == 0 {
			continue // not set
		}
		all = append(all, a)
	}
	return all
}
