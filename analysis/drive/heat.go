package drive

import (
	"math"

	"cogledger/analysis/bike"
)

// Nodes advances the motor's two temperatures, winding and housing, by one
// fixed step. Copper loss warms the winding, core loss and friction the
// housing; heat flows from winding to housing to air:
//
//	Cw dTw/dt = copper - (Tw - Th)/Rwh
//	Ch dTh/dt = core + (Tw - Th)/Rwh - (Th - Tair)/Rha
//
// With constant heat within the step the solution is exact (the matrix
// exponential), so a step may be as long as the heat stays the same.
type Nodes struct {
	full, half      propagator
	windingJPerK    float64
	housingJPerK    float64
	housingToAirWPK float64
}

// NewNodes prepares steps of the given length in seconds.
func NewNodes(t bike.Thermal, seconds float64) Nodes {
	between, out := 1/t.WindingToHousing, 1/t.HousingToAir
	rates := [4]float64{
		-between / t.WindingJPerK, between / t.WindingJPerK,
		between / t.HousingJPerK, -(between + out) / t.HousingJPerK,
	}
	return Nodes{
		full: newPropagator(rates, seconds), half: newPropagator(rates, seconds/2),
		windingJPerK: t.WindingJPerK, housingJPerK: t.HousingJPerK, housingToAirWPK: out,
	}
}

// Step returns winding and housing in °C one step later under constant heat in
// W and constant air in °C.
func (n *Nodes) Step(windingC, housingC, copper, core, airC float64) (float64, float64) {
	return n.move(&n.full, windingC, housingC, copper, core, airC)
}

// Middle is Step over half the step.
func (n *Nodes) Middle(windingC, housingC, copper, core, airC float64) (float64, float64) {
	return n.move(&n.half, windingC, housingC, copper, core, airC)
}

// Advance is Step where copper loss depends on the winding's own temperature:
// it takes the loss at the temperature in the middle of the step, which makes
// the step accurate to second order.
func (n *Nodes) Advance(windingC, housingC, core, airC float64, copper func(windingC float64) float64) (float64, float64) {
	mid, _ := n.Middle(windingC, housingC, copper(windingC), core, airC)
	return n.Step(windingC, housingC, copper(mid), core, airC)
}

func (n *Nodes) move(p *propagator, windingC, housingC, copper, core, airC float64) (float64, float64) {
	// Counted from the air's temperature, the air itself drops out.
	w, h := windingC-airC, housingC-airC
	a, b := copper/n.windingJPerK, core/n.housingJPerK
	return airC + p.keep[0]*w + p.keep[1]*h + p.gain[0]*a + p.gain[1]*b,
		airC + p.keep[2]*w + p.keep[3]*h + p.gain[2]*a + p.gain[3]*b
}

// A propagator is exp(A t) and its integral over the step for a two by two
// matrix A, row by row.
type propagator struct{ keep, gain [4]float64 }

// newPropagator uses Sylvester's formula. The eigenvalues of two bodies that
// exchange heat are real, distinct and never positive.
func newPropagator(a [4]float64, t float64) propagator {
	mean := (a[0] + a[3]) / 2
	root := math.Sqrt((a[0]-a[3])*(a[0]-a[3])/4 + a[1]*a[2])
	fast, slow := mean-root, mean+root
	integral := func(rate float64) float64 {
		if math.Abs(rate*t) < 1e-12 {
			return t
		}
		return math.Expm1(rate*t) / rate
	}
	combine := func(f func(float64) float64) (m [4]float64) {
		p, q := f(fast)/(fast-slow), f(slow)/(slow-fast)
		for k, x := range a {
			one := 0.0
			if k == 0 || k == 3 {
				one = 1
			}
			m[k] = p*(x-slow*one) + q*(x-fast*one)
		}
		return m
	}
	return propagator{combine(func(rate float64) float64 { return math.Exp(rate * t) }), combine(integral)}
}
