package made

import (
	"math/rand/v2"
	"time"

	"cogledger/analysis/bike"
	"cogledger/ingest/ride"
)

// A Ride is a made ride: what its devices logged, and the truth.
type Ride struct {
	Name   string
	Bike   *bike.Profile // as simulated
	Tracks []*ride.Track // the head unit's; where the drive logged apart, its own after it
	Truth  *Truth

	scenario Scenario
	rider    Rider
	seed     uint64
}

// Options choose a week of rides.
type Options struct {
	Seed   uint64
	Start  time.Time // of the week; zero: Monday, 1 June 2026
	Riders []Rider   // in turn; nil: mostly the rider who lugs, at times the one who shifts well
	Rides  int       // 0: one a day
	Told   Told      // what the head unit logs of the motor
}

func firstMonday() time.Time { return time.Date(2026, 6, 1, 6, 30, 0, 0, time.UTC) }

// Week makes a week of rides of one courier bike on one coast road, from a
// quarter of an hour to most of an hour long. On one of them the drive logs
// apart from the head unit.
func Week(p *bike.Profile, o Options) []*Ride {
	if o.Start.IsZero() {
		o.Start = firstMonday()
	}
	road := CoastRoad()
	draw := rand.New(rand.NewPCG(o.Seed, 77))
	days := []struct {
		name     string
		from, to float64 // km of the road
		wind     float64
		red      float64
		rider    Rider
		logger   bool
	}{
		{"Monday, parcels along the quay", 0, 6.2, 2.5, 0.45, Lugger(), false},
		{"Tuesday, letters through the old town", 7.4, 1.0, 1.5, 0.5, Lugger(), false},
		{"Wednesday, over the hill", 1.8, 11.4, 3, 0.4, Shifter(), false},
		{"Thursday, one box to the dike", 7.0, 13.0, 4, 0.3, OneGearLugger(), false},
		{"Friday, over the hill again", 1.8, 11.4, 2, 0.4, Lugger(), false},
		{"Saturday, market errands", 13.4, 7.4, 2, 0.5, Shifter(), false},
		{"Sunday, the long way round", 0, 17.2, 3, 0.35, Lugger(), true},
	}
	n := len(days)
	if o.Rides > 0 {
		n = o.Rides
	}
	rides := make([]*Ride, n)
	for i := range n {
		d := days[i%len(days)]
		if len(o.Riders) > 0 {
			d.rider = o.Riders[i%len(o.Riders)]
		}
		rides[i] = Simulate(p, Scenario{
			Name: d.name + " (made)", Course: road.Stretch(1000*d.from, 1000*d.to),
			Start:   o.Start.AddDate(0, 0, i).Add(time.Duration(draw.IntN(5400)) * time.Second),
			WindMPS: d.wind * (0.6 + 0.8*draw.Float64()), WindFrom: 360 * draw.Float64(),
			AirC: 13 + 9*draw.Float64(), Pressure: 101325 + 900*draw.NormFloat64(),
			Charge: 0.55 + 0.43*draw.Float64(), RedShare: d.red, Logger: d.logger, Told: o.Told,
		}, d.rider, o.Seed+uint64(i)*0x9e3779b97f4a7c15)
	}
	return rides
}

// Errand is one ride of some minutes somewhere on the coast road in weather
// drawn from the seed: one of many for a fleet. Road is CoastRoad().
func Errand(road *Course, seed uint64, minutes float64) Scenario {
	draw := rand.New(rand.NewPCG(seed, 78))
	metres := min(minutes*60*5.3, road.Length())
	from := draw.Float64() * (road.Length() - metres)
	to := from + metres
	if draw.IntN(2) == 0 {
		from, to = to, from
	}
	return Scenario{
		Name: "errand (made)", Course: road.Stretch(from, to),
		Start:   firstMonday().Add(time.Duration(draw.IntN(30*24*3600)) * time.Second),
		WindMPS: 1 + 3*draw.Float64(), WindFrom: 360 * draw.Float64(),
		AirC: 8 + 15*draw.Float64(), Charge: 0.4 + 0.6*draw.Float64(), RedShare: 0.3 + 0.25*draw.Float64(),
	}
}

// LateOnRamps is a ride over n steep bridge ramps and a rider for it who shifts
// well everywhere but on the ramps: there the down-shift comes some 20 s late.
// The truth lists each as a planted LateDownShift.
func LateOnRamps(n int) (Scenario, Rider) {
	rd := Shifter()
	rd.Name = "the rider who is late on ramps"
	rd.CruiseMPS, rd.LowRPM, rd.HighRPM, rd.LoadRPM = 6.8, 58, 75, 18
	return Scenario{Name: "over the bridges (made)", Course: Ramps(n), LateShifts: n, WindMPS: 1, AirC: 15}, rd
}

// Drawn is a bike that could hide behind the profile: each number moved by
// chance within its tolerance. Rides of it, reviewed with the profile itself,
// show whether stated intervals hold what they promise.
func Drawn(p *bike.Profile, seed uint64) *bike.Profile {
	draw := rand.New(rand.NewPCG(seed, 79))
	drawn := p
	for _, t := range p.Tolerances() {
		const ninety = 1.6448536269514722 // standard deviations of half a 90 % range
		f := 1 + t.Fraction/ninety*draw.NormFloat64()
		value := min(max(t.Value*max(f, 0.2), t.Least), t.Most)
		drawn = drawn.Scaled(t.Key, value/t.Value)
	}
	return drawn
}
