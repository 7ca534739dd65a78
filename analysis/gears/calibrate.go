package gears

import (
	"math"

	"cogledger/analysis/bike"
)

// calibrate fits circumference, noise and slip to the ride and returns the
// view at the lag found.
func (m *model) calibrate(e *evidence, f *Inference) *view {
	lag := e.lag()
	v := e.at(lag)
	m.refine(v, 4)
	f.LagSeconds = lag
	f.Circumference = math.Exp(m.logC)
	return v
}

// refine runs expectation and maximisation over a view.
func (m *model) refine(v *view, rounds int) {
	start := m.logC
	v.set(m.noise)
	for range rounds {
		c := census{m: m, v: v}
		for i, odds := range usualSlipOdds() { // worth half a minute of each
			c.driving[i], c.slipping[i] = 30, 30*odds
		}
		m.chain.Smooth(len(v.kind), m.look(v), c.visit)
		if c.weight < 60 {
			return
		}
		m.logC += c.deviation / c.weight
		m.logC = min(max(m.logC, start-bike.TyreSpread), start+bike.TyreSpread)
		m.noise = c.fit.solve()
		m.keep = min(max(c.lagged/c.square, 0), 0.95)
		m.slipOdds = c.odds()
		v.set(m.noise)
	}
}

// A census is one pass's sums over the driving seconds.
type census struct {
	m *model
	v *view

	weight, deviation float64 // Student weights, over the variance
	lagged, square    float64
	fit               noiseFit
	driving, slipping [powerBins]float64
}

func (c *census) visit(t int, drive, slip []float64) {
	v, m := c.v, c.m
	if v.kind[t] != turning {
		return
	}
	best, most, driven := 0, 0.0, 0.0
	for g, p := range drive {
		driven += p
		if p > most {
			best, most = g, p
		}
	}
	c.driving[v.power[t]] += driven
	c.slipping[v.power[t]] += 1 - driven
	if most < 0.7 {
		return
	}
	sure := float64(v.sure[t])
	x := float64(v.logDev[t]) - m.logC - m.logRatio[best]
	z := x * sure
	if z*z > 20 {
		return
	}
	k := most * 6 / (5 + z*z) // Student weight
	c.weight += k
	c.deviation += k * x
	c.fit.add(k*x*x-float64(v.round[t]), float64(v.slow[t]), float64(v.change[t]), sure, most)
	if t > 0 && v.kind[t-1] >= starting {
		was := float64(v.logDev[t-1]) - m.logC - m.logRatio[best]
		if was = was * sure; was*was < 20 {
			c.lagged += most * z * was
			c.square += most * z * z
		}
	}
}

func (c *census) odds() (odds [powerBins]float64) {
	var d, s float64
	for i := range odds {
		d += c.driving[i]
		s += c.slipping[i]
	}
	for i := range odds {
		odds[i] = c.slipping[i] / s / (c.driving[i] / d)
	}
	return odds
}
