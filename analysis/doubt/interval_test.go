package doubt_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
)

// A product of powers has a relative uncertainty that is known by hand: the
// exponents times the parts' uncertainties, in quadrature (GUM, JCGM 100,
// 5.1.6).
func TestIntervalOfAProduct(t *testing.T) {
	p := bike.Example()
	p.Tolerance = map[string]float64{"motor.resistance_ohm": 0.03, "motor.torque_constant_nm_per_a": 0.02}
	var chosen []bike.Tolerance
	for _, t := range p.Tolerances() {
		if _, own := p.Tolerance[t.Key]; own {
			chosen = append(chosen, t)
		}
	}
	figures := doubt.Interval(p, chosen, func(p *bike.Profile) []float64 {
		return []float64{p.Motor.ResistanceOhm / (p.Motor.TorqueConstant * p.Motor.TorqueConstant), math.NaN(), 7}
	})
	f := figures[0]
	want := math.Hypot(0.03, 2*0.02)
	if got := (f.High - f.Low) / 2 / f.Value; math.Abs(got-want) > 0.001 {
		t.Errorf("half width %g, by hand %g", got, want)
	}
	if !math.IsNaN(figures[1].Value) {
		t.Error("a figure that cannot be told has a value")
	}
	if figures[2] != (doubt.Figure{Value: 7, Low: 7, High: 7}) {
		t.Errorf("a figure that rests on nothing doubtful: %v", figures[2])
	}
}

// A loss that cannot be negative has a short lower arm.
func TestIntervalIsLopsidedWhereTheFigureIs(t *testing.T) {
	x := doubt.Source{
		Name: "x",
		Up:   func() []float64 { return []float64{4} },
		Down: func() []float64 { return []float64{0} },
	}
	f := doubt.Around([]float64{1}, []doubt.Source{x})[0]
	if f.Low != 0 || f.High != 4 || !f.HoldsZero() {
		t.Errorf("%+v", f)
	}
}

func TestWidened(t *testing.T) {
	f := doubt.Figure{Value: 10, Low: 7, High: 14}.Widened(3)
	if math.Abs(f.Low-(10-math.Sqrt(18))) > 1e-12 || f.High != 15 {
		t.Errorf("%+v", f)
	}
}

func TestResolutionOfACoarseSensor(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 4))
	for _, step := range []float64{1, 0.1, 0.01} {
		column := make([]float64, 3000)
		var square float64
		for i := range column {
			true := 10 * random.Float64()
			column[i] = math.Round(true/step) * step
			square += (column[i] - true) * (column[i] - true) / 3000
		}
		column[5] = math.NaN()
		if got := doubt.Resolution(column); math.Abs(got-step) > 1e-6*step {
			t.Errorf("step %g: found %g", step, got)
		}
		if spread := math.Sqrt(square); math.Abs(spread/doubt.Rounding(step)-1) > 0.05 {
			t.Errorf("step %g: errors spread by %g, foretold %g", step, spread, doubt.Rounding(step))
		}
	}
	if doubt.Resolution([]float64{3, 3, math.NaN()}) != 0 || doubt.Resolution(nil) != 0 {
		t.Error("a column that never changes has a resolution")
	}
}
