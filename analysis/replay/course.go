package replay

import (
	"math"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/road"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

// A course is what the ride asked of the bike, second by second: what another
// drive has to give too.
type course struct {
	r   *ride.Ride
	inf *gears.Inference
	d   *drive.Series
	rd  *road.Series

	claimed []bool    // seconds that another drive can be tried in
	speed   []float64 // m/s, the logged speed with its lag taken off
	wheel   []float64 // W at the wheel, motor and legs, where claimed and loaded
	legs    []float64 // W at the crank
	air     []float64 // °C
	told    []working // as the log tells it; heat as of late where it does not
	total   float64   // J out of the battery's terminals, charging counted too
}

func survey(r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, d *drive.Series, m *drive.Matrix) *course {
	n := r.Len()
	perMPS := drive.NewUnit(p).Rolling(inf.Circumference).CadenceRPM(1, p.Gears()[0])
	c := &course{
		r: r, inf: inf, d: d, rd: rd,
		claimed: make([]bool, n), speed: make([]float64, n), wheel: make([]float64, n), legs: make([]float64, n), air: make([]float64, n),
		told: make([]working, n),
	}
	ambient := p.Thermal.AmbientC
	var lately working
	for s := range n {
		c.told[s] = working{terminal: known(d.Terminal[s]), copper: d.Copper[s], core: d.Drag[s] + p.Thermal.ControllerShare*d.Controller[s], pace: 1}
		c.total += math.Abs(c.told[s].terminal)
		switch {
		case r.Paused(s):
			c.told[s].copper, c.told[s].core = 0, 0
		case math.IsNaN(d.Copper[s]):
			c.told[s].copper, c.told[s].core = lately.copper, lately.core
		}
		lately.copper += (c.told[s].copper - lately.copper) / drive.HeatFade
		lately.core += (c.told[s].core - lately.core) / drive.HeatFade
		if t := r.At(ride.AirTemp, s); !math.IsNaN(t) {
			ambient = t
		}
		c.air[s] = ambient
		if legs := d.Legs[s]; legs > 0 {
			c.legs[s] = legs
			c.wheel[s] = legs - d.LegsChain[s]
		}
		c.wheel[s] += d.Delivered[s]
		c.speed[s] = m.CadenceRPM(s, 0) / perMPS
		c.claimed[s] = shifts.Comparable(r, inf, d, m, s) && c.speed[s] >= 0
	}
	return c
}

// airShare is the part of the road load in second s that grows with the cube
// of speed; the rest grows with speed.
func (c *course) airShare(s int) float64 {
	air := math.Max(0, c.rd.Air[s])
	rest := math.Max(0, c.rd.Rolling[s]+c.rd.Bearings[s]+math.Max(0, c.rd.Climbing[s])+math.Max(0, c.rd.Inertia[s]))
	if share := air / (air + rest); share >= 0 {
		return share
	}
	return 0.5 // the road is unknown
}
