package doubt

import (
	"math"

	"cogledger/analysis/bike"
)

// A Source is one thing not known for sure. Up and Down return the figures
// with it at the upper and at the lower end of its 90 % range, all else at its
// best estimate.
type Source struct {
	Name     string
	Up, Down func() []float64
}

// FromTolerances makes a source of each tolerance of a profile.
func FromTolerances(p *bike.Profile, tolerances []bike.Tolerance, f func(*bike.Profile) []float64) []Source {
	sources := make([]Source, len(tolerances))
	for i, t := range tolerances {
		sources[i] = Source{
			Name: t.Key,
			Up:   func() []float64 { return f(p.Scaled(t.Key, 1+t.Fraction)) },
			Down: func() []float64 { return f(p.Scaled(t.Key, max(1-t.Fraction, 0.01))) },
		}
	}
	return sources
}

// Interval puts a 90 % interval around each figure that f computes from the
// profile. more adds what no number of the profile stands for, such as wind.
//
// Sources are taken to be independent, so what each moves adds in quadrature
// (GUM, JCGM 100, 5.1.2). Up and down are added apart, because a loss near
// zero can grow but hardly shrink. A source that moves nothing upwards by more
// than a thousandth is not tried downwards: it counts the same both ways.
//
// A figure that is NaN stays NaN. Where a source leaves it untold on one side, the
// other side counts for both; on both, nothing is added. Basis is left to the
// caller.
func Interval(p *bike.Profile, tolerances []bike.Tolerance, f func(*bike.Profile) []float64, more ...Source) []Figure {
	return Around(f(p), append(FromTolerances(p, tolerances, f), more...))
}

// Around is Interval with the sources ready made.
func Around(value []float64, sources []Source) []Figure {
	up, down := make([]float64, len(value)), make([]float64, len(value)) // squares
	for _, s := range sources {
		first := s.Up()
		second := mirrored(value, first)
		if matters(value, first) {
			second = s.Down()
		}
		for i, v := range value {
			a, b := first[i]-v, second[i]-v
			switch {
			case math.IsNaN(a) && math.IsNaN(b):
				continue
			case math.IsNaN(a):
				a = -b
			case math.IsNaN(b):
				b = -a
			}
			high, low := max(a, b, 0), max(-a, -b, 0)
			up[i] += high * high
			down[i] += low * low
		}
	}
	figures := make([]Figure, len(value))
	for i, v := range value {
		figures[i] = Figure{Value: v, Low: v - math.Sqrt(down[i]), High: v + math.Sqrt(up[i])}
	}
	return figures
}

// small is the share of a figure below which a source's effect is taken to be
// the same both ways.
const small = 0.001

func matters(value, moved []float64) bool {
	for i, v := range value {
		if math.Abs(moved[i]-v) > small*math.Abs(v) {
			return true
		}
	}
	return false
}

func mirrored(value, moved []float64) []float64 {
	other := make([]float64, len(value))
	for i, v := range value {
		other[i] = 2*v - moved[i]
	}
	return other
}

// Z90 is the half-width of the 90 % range of a normal distribution in standard
// deviations.
const Z90 = 1.6448536269514722

// HalfWidth is half of the 90 % range of a normal distribution with a standard
// deviation.
func HalfWidth(sigma float64) float64 { return Z90 * sigma }

// Widened adds an independent doubt to a figure, in quadrature; halfWidth is
// that of its 90 % range.
func (f Figure) Widened(halfWidth float64) Figure {
	f.Low = f.Value - math.Hypot(f.Value-f.Low, halfWidth)
	f.High = f.Value + math.Hypot(f.High-f.Value, halfWidth)
	return f
}

// Raised is Widened upwards alone, for what can only have been missed.
func (f Figure) Raised(halfWidth float64) Figure {
	f.High = f.Value + math.Hypot(f.High-f.Value, halfWidth)
	return f
}

// Lowered is Widened downwards alone.
func (f Figure) Lowered(halfWidth float64) Figure {
	f.Low = f.Value - math.Hypot(f.Value-f.Low, halfWidth)
	return f
}
