package lesson

import (
	"math"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/shifts"
)

// A Climb is the place where a gear taken early would have saved most.
type Climb struct {
	Moment shifts.Moment
	Ride   int // index into the set's rides
	Shape  []Height
}

// A Height is a point of the road before and in the climb.
type Height struct {
	Metres float64 // from the start of the ride
	Height float64 // m
}

const (
	climbs    = 0.02 // rise over run
	leastWh   = 0.2  // saved each time, worth remembering a place for
	leadIn    = 150  // m of road shown before the climb
	leadOut   = 100
	shapeStep = 5 // m
)

// climb finds the advised moment on rising ground that saves most.
func climb(set *analysis.Set) *Climb {
	var best *Climb
	for i, res := range set.Rides {
		for _, m := range res.Moments {
			if m.Advised && m.Grade >= climbs && m.Saving.Value >= leastWh && lower(set.Bike, m) && (best == nil || m.Saving.Value > best.Moment.Saving.Value) {
				best = &Climb{Moment: m, Ride: i}
			}
		}
	}
	if best != nil {
		best.Shape = shape(set.Rides[best.Ride], best.Moment)
	}
	return best
}

func lower(p *bike.Profile, m shifts.Moment) bool {
	all := p.Gears()
	return m.GearFrom >= 0 && m.GearTo >= 0 && all[m.GearTo].Ratio < all[m.GearFrom].Ratio
}

// shape is the height along the road around the moment, empty without altitude.
func shape(res *analysis.Result, m shifts.Moment) []Height {
	d, h := res.Road.Distance, res.Road.Altitude
	if len(h) == 0 {
		return nil
	}
	from, to := m.StartM-leadIn, d[m.To-1]+leadOut
	var line []Height
	next := math.Inf(-1)
	for i := range d {
		if d[i] < from || d[i] > to || math.IsNaN(h[i]) || d[i] < next {
			continue
		}
		line = append(line, Height{d[i], h[i]})
		next = d[i] + shapeStep
	}
	return line
}
