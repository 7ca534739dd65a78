// Package gears tells which gear was in use in every second of a ride.
package gears

import (
	"fmt"
	"math"

	"cogledger/analysis/bike"
	"cogledger/ingest/ride"
)

// Infer finds the gear of every second of the ride on the given bike. A ride
// without speed or cadence has no gears to tell: the Inference then says so in
// its Notes and names none. The error is for a profile without gears or wheel.
func Infer(r *ride.Ride, p *bike.Profile, o Options) (*Inference, error) {
	list := p.Gears()
	if len(list) == 0 {
		return nil, fmt.Errorf("bike %q has no gears: give chainrings and cogs under drivetrain", p.Name)
	}
	c := p.Circumference()
	if !(c > 0) {
		return nil, fmt.Errorf("bike %q has no wheel circumference: give wheel.tyre or wheel.rollout_mm", p.Name)
	}
	n := r.Len()
	f := &Inference{
		Index: make([]int, n), Best: make([]int, n),
		Probability: make([]float64, n), Coupled: make([]float64, n),
		Circumference: c, CircumferenceLow: c * (1 - bike.TyreSpread), CircumferenceHigh: c * (1 + bike.TyreSpread),
	}
	for t := range n {
		f.Index[t], f.Best[t] = Unknown, Unknown
	}
	e := gather(r, p.Drive)
	if !e.usable() {
		f.Notes = append(f.Notes, ride.Note{
			Text: "the log has no speed or no cadence: the gear in use cannot be told",
			Cure: "fit a cadence sensor, or join a second log that has one",
		})
		return f, nil
	}
	m := newModel(list, c)
	f.LagSeconds = m.calibrate(&e)
	f.Circumference = math.Exp(m.logC)
	v := e.at(f.LagSeconds, 0, n)
	v.set(m.noise)
	k := newKeeper(f, len(list))
	m.chain.Smooth(n, m.look(v), k.visit)
	k.finish()
	f.name(&e, o)
	f.Spread = math.Sqrt(m.noise.base)
	return f, nil
}

// name fills Index where the gear is certain enough, and counts.
func (f *Inference) name(e *evidence, o Options) {
	right := o.NamedRight
	if right == 0 {
		right = DefaultNamedRight
	}
	f.Threshold = threshold(f.Probability, right, e.pedalling)
	for t := range f.Index {
		if e.paused[t] {
			f.Best[t], f.Probability[t], f.Coupled[t] = Unknown, 0, 0
		} else if f.Probability[t] >= f.Threshold {
			f.Index[t] = f.Best[t]
		}
		if e.pedalling(t) {
			f.PedallingSeconds++
			if f.Index[t] != Unknown {
				f.NamedSeconds++
			}
		}
	}
}
