package gears

import (
	"math"

	"cogledger/analysis/bike"
)

// A model is what the chain needs to judge a second.
type model struct {
	logRatio []float64 // log of wheel turns a crank turn, by gear
	logC     float64   // log of the circumference in m
	noise    noise
	keep     float64            // correlation of a deviation with that of a second ago
	slipOdds [powerBins]float64 // how much likelier a power is while slipping than while driving
	chain    Chain
	scratch  *Scratch
}

// laddersOf tells how many ladders the gears form, and how many rungs each has.
func laddersOf(gears []bike.Gear) (rings, rungs int) {
	rings = 1
	for i := 1; i < len(gears); i++ {
		if gears[i].Front != gears[i-1].Front {
			rings++
		}
	}
	return rings, len(gears) / rings
}

func newModel(gears []bike.Gear, circumference float64, scratch *Scratch) *model {
	m := &model{
		logC:     math.Log(circumference),
		noise:    noise{base: 0.02 * 0.02},
		keep:     0.3,
		slipOdds: usualSlipOdds(),
		scratch:  scratch,
	}
	n := len(gears)
	for _, g := range gears {
		m.logRatio = append(m.logRatio, math.Log(g.Ratio))
	}
	rings, rungs := laddersOf(gears)
	m.chain = Chain{
		Rings: rings, Rungs: rungs,
		Start: make([]float64, n), Leave: make([]float64, n),
		RingShare: 0.05, RungDecay: 0.3, RingDecay: 0.6,
		Slip: 1.0 / 40, After: 0.1,
	}
	for g := range n {
		m.chain.Start[g] = 1 / float64(n)
		m.chain.Leave[g] = 1.0 / 40
	}
	return m
}

// usualSlipOdds is where every ride starts from: a crank without torque does
// not drive, and readings trail by a second or two.
func usualSlipOdds() [powerBins]float64 {
	return [powerBins]float64{1, 6, 4, 1.5, 0.4, 0.15, 0.05}
}

const (
	outlier      = 0.02  // share of driving seconds whose development tells nothing
	looseOutlier = 0.25  // the same in the second of a shift and when cranks start
	flat         = 0.667 // density of what tells nothing, over log development
	softChange   = 0.05  // change of log development from second to second while pedalling softly
	usualGrip    = 0.2   // probability a second that a soft pedaller begins to push
	startGrip    = 0.7   // the same when cranks start to turn
	tooFast      = 0.02  // odds of a slipping crank that is faster than its gear would turn it
	nearby       = 9     // standard deviations beyond which a gear is as unlikely as any
	motorPushes  = 0.3   // odds of a slipping crank while the motor pushes
)

// student is the density of Student's t distribution with five degrees of
// freedom at the square of its argument: Gaussian in the middle, with the
// tails that logged ratios have.
func student(z2 float64) float64 {
	q := 1 + z2/5
	return 0.3796066898224944 / (q * q * q)
}

// look returns the chain's look function on a view.
func (m *model) look(v *view) func(t int, s *Sight) {
	e := &eye{model: m, view: v, keep2: 1 / math.Sqrt(1-m.keep*m.keep)}
	if v.told == nil {
		return e.see
	}
	return func(t int, s *Sight) {
		e.see(t, s)
		m.hear(s, v.told[t])
	}
}

// An eye looks at a view by a model.
type eye struct {
	*model
	*view
	keep2 float64
}

// see judges a second by speed, cadence and powers.
func (e *eye) see(t int, s *Sight) {
	switch e.kind[t] {
	case blind, standing:
		fill(s, 1, 1, 0.5)
		return
	case coasting:
		fill(s, 0.01, 1, 0.3)
		return
	}
	s.Steady, s.Grip, s.Pace = 1, usualGrip, 1
	if e.kind[max(t-1, 0)] < starting {
		s.Grip = startGrip
	}
	sure := float64(e.sure[t])
	x0 := (float64(e.logDev[t]) - e.logC) * sure
	odds := e.slipOdds[e.power[t]] * flat
	if e.motor[t] {
		odds *= motorPushes
	}
	share := outlier
	if e.kind[t] == starting {
		share = looseOutlier
	}
	follows := t > 0 && e.kind[t-1] >= starting
	was0 := 0.0
	if follows {
		was0 = (float64(e.logDev[t-1]) - e.logC) * sure
		z := float64(e.logDev[t]-e.logDev[t-1]) / softChange
		s.Steady = 0.5 + 0.5*student(z*z)/(softChange*flat)
	}
	fresh, sharp := (1-looseOutlier)*sure, (1-share)*sure
	if follows {
		sharp *= e.keep2
	}
	far, farHeld := looseOutlier*flat, share*flat
	keep, keep2, logRatio := e.keep, e.keep2, e.logRatio
	n := len(logRatio)
	held, freshly, slip := s.Held[:n], s.Fresh[:n], s.Slip[:n]
	for g, r := range logRatio {
		r *= sure
		z := x0 - r
		switch {
		case z > nearby:
			held[g], freshly[g], slip[g] = farHeld, far, odds
			continue
		case z < -nearby:
			held[g], freshly[g], slip[g] = farHeld, far, odds*tooFast
			continue
		}
		slip[g] = odds * ramp(z)
		freshly[g] = far + fresh*student(z*z)
		if follows {
			z = (z - keep*clip(was0-r, 2.5)) * keep2
		}
		held[g] = farHeld + sharp*student(z*z)
	}
}

// ramp rises from tooFast to 1 around 0: a slipping crank is slower than the
// gear would turn it, never faster.
func ramp(z float64) float64 { return (1+tooFast)/2 + (1-tooFast)/2*clip(z, 1) }

func clip(z, most float64) float64 {
	if z > most {
		return most
	}
	if z < -most {
		return -most
	}
	return z
}

func fill(s *Sight, drive, slip, pace float64) {
	held := s.Held
	freshly, slipping := s.Fresh[:len(held)], s.Slip[:len(held)]
	for g := range held {
		held[g], freshly[g], slipping[g] = drive, drive, slip
	}
	s.Steady, s.Grip, s.Pace = 1, usualGrip, pace
}
