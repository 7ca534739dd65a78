package gears

import (
	"math"

	"cogledger/analysis/bike"
)

// A model is what the emission of the chain depends on.
type model struct {
	logRatio []float64 // log of wheel turns a crank turn, by gear
	logC     float64   // log of the circumference in m
	spread2  float64   // variance of log development within a gear, beyond rounding
	keep     float64   // correlation of the deviation with that of a second ago
	chain    Chain
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

func newModel(gears []bike.Gear, circumference float64) *model {
	m := &model{logC: math.Log(circumference), spread2: 0.02 * 0.02, keep: 0.5}
	n := len(gears)
	for _, g := range gears {
		m.logRatio = append(m.logRatio, math.Log(g.Ratio))
	}
	rings, rungs := laddersOf(gears)
	m.chain = Chain{
		Rings: rings, Rungs: rungs,
		Start: make([]float64, n), Leave: make([]float64, n),
		RingShare: 0.05, RungDecay: 0.3, RingDecay: 0.6,
		Slip: 1.0 / 30, Grip: 1.0 / 6, After: 0.1,
	}
	for g := range n {
		m.chain.Start[g] = 1 / float64(n)
		m.chain.Leave[g] = 1.0 / 40
	}
	return m
}

const (
	outlier      = 0.03    // share of driving seconds whose development tells nothing
	outlierLevel = 1 / 1.5 // their density, over log development
	slipLevel    = 1 / 1.5 // density of a slipping crank's development above the gear's own
)

// student is the density of Student's t distribution with five degrees of
// freedom: Gaussian in the middle, with the tails that logged ratios have.
func student(z2 float64) float64 {
	q := 1 + z2/5
	return 0.3796066898224944 / (q * q * q)
}

// sight returns the chain's look function on a view.
func (m *model) sight(v *view) func(t int, s *Sight) {
	return func(t int, s *Sight) {
		switch v.kind[t] {
		case blind, standing:
			fill(s, 1, 1, 0.5)
			return
		case coasting:
			fill(s, 1e-3, 1, 0.2)
			return
		}
		s.Pace = 1
		tol := m.spread2 + float64(v.logTol[t])
		inv2 := 1 / tol
		inv := math.Sqrt(inv2)
		x0 := float64(v.logDev[t]) - m.logC
		odds := float64(v.slip[t])
		follows := t > 0 && v.kind[t-1] == turning
		var step, inov2, inov float64
		if follows {
			step = float64(v.logDev[t-1]) - m.logC
			inov2 = inv2 / (1 - m.keep*m.keep)
			inov = math.Sqrt(inov2)
		}
		reach := 2.5 * math.Sqrt(tol)
		for g, r := range m.logRatio {
			x := x0 - r
			fresh := (1-outlier)*student(x*x*inv2)*inv + outlier*outlierLevel
			s.Fresh[g] = fresh
			s.Held[g] = fresh
			if follows {
				was := min(max(step-r, -reach), reach) * m.keep
				e := x - was
				s.Held[g] = (1-outlier)*student(e*e*inov2)*inov + outlier*outlierLevel
			}
			s.Slip[g] = odds * slipLevel * ramp(x*inv)
		}
	}
}

// ramp rises from near 0 to 1 around 0: a slipping crank is slower than the
// gear would turn it, never faster.
func ramp(z float64) float64 {
	switch {
	case z < -1:
		return 0.02
	case z > 1:
		return 1
	}
	return 0.51 + 0.49*z
}

func fill(s *Sight, drive, slip, pace float64) {
	for g := range s.Held {
		s.Held[g], s.Fresh[g], s.Slip[g] = drive, drive, slip
	}
	s.Pace = pace
}
