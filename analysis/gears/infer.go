package gears

import (
	"fmt"
	"slices"

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
	n, scratch := r.Len(), o.Scratch
	if scratch == nil {
		scratch = new(Scratch)
	}
	scratch.floats.reset(6 * n)
	scratch.ints.reset(2 * n)
	f := &Inference{
		Index: scratch.ints.take(n), Best: scratch.ints.take(n),
		Probability: scratch.floats.take(n), Coupled: scratch.floats.take(n),
		Circumference: c, CircumferenceLow: c * (1 - bike.TyreSpread), CircumferenceHigh: c * (1 + bike.TyreSpread),
	}
	for t := range n {
		f.Index[t], f.Best[t] = Unknown, Unknown
	}
	e, notes := gather(r, p.Drive, &scratch.floats)
	f.Notes = notes
	if !e.usable() {
		f.Notes = append(f.Notes, ride.Note{
			Text: "the log has no speed or no cadence: the gear in use cannot be told",
			Cure: "fit a cadence sensor, or join a second log that has one",
		})
		return f, nil
	}
	m := newModel(list, c, scratch)
	fitted := m.calibrate(&e, o.CalibrationSeconds)
	fitted.report(f, m)
	v := e.at(&m.scratch.whole, fitted.lag, 0, n)
	v.set(m.noise)
	f.Spread = v.spread(m)
	f.smooth(m, v, &e, o)
	if !v.tells() {
		f.Notes = append(f.Notes, ride.Note{
			Text: "nowhere in the log do the cranks turn while the bike rolls: the gear in use cannot be told",
			Cure: "check the cadence sensor",
		})
	}
	if f.Mismatch = m.question(v, o.CalibrationSeconds, p); f.Mismatch.Found {
		f.Notes = append(f.Notes, f.Mismatch.Note())
	}
	if len(r.Shifts) > 0 {
		f.consult(r, m, v, &e, o, p)
	}
	return f, nil
}

// smooth runs the chain over the whole ride.
func (f *Inference) smooth(m *model, v *view, e *evidence, o Options) {
	if v.tells() {
		k := newKeeper(f, e, len(m.logRatio))
		m.chain.smooth(m.scratch, len(v.kind), m.look(v), k.visit, nil)
		k.finish()
	}
	f.name(e, o)
}

// consult shows the bike's own shift records, and where they can be trusted
// runs the chain again with them.
func (f *Inference) consult(r *ride.Ride, m *model, v *view, e *evidence, o Options, p *bike.Profile) {
	rungs, rings := numbered(p)
	c := recall(r.Shifts, r.Len(), rungs, rings)
	share, seconds := c.agree(f, e, m.chain.Rungs)
	f.RecordedAgreement, f.RecordedLagSeconds = share, c.lag
	switch {
	case o.IgnoreRecorded:
	case share >= trustedShare && seconds >= trustedSeconds:
		c.testify(v)
		f.smooth(m, v, e, o)
		c.decide(f, e, m.chain.Rungs)
		f.name(e, o)
		f.RecordedUsed = true
	default:
		f.Notes = append(f.Notes, disagreement(share, seconds))
	}
	c.show(f, m.chain.Rungs)
}

// numbered lists what a bike's gear numbers count: sprockets from the largest
// or steps of a gear hub, and rings from the smallest.
func numbered(p *bike.Profile) (rear, front []int) {
	rear, front = slices.Clone(p.Drivetrain.Cogs), slices.Clone(p.Drivetrain.Chainrings)
	slices.Sort(rear)
	slices.Reverse(rear)
	slices.Sort(front)
	if steps := len(p.Drivetrain.HubGears); steps > 0 {
		rear = make([]int, steps) // no teeth to go by
	}
	return rear, front
}

// name fills Index where the gear is certain enough, and counts.
func (f *Inference) name(e *evidence, o Options) {
	right := o.NamedRight
	if right == 0 {
		right = DefaultNamedRight
	}
	f.PedallingSeconds, f.NamedSeconds = 0, 0
	f.Threshold = threshold(f.Probability, right, e.pedalling)
	for t := range f.Index {
		f.Index[t] = Unknown
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
