package fleet

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Pairs are the sums of a quantity y over a base x, ride by ride, that a ratio
// and its standard error need.
type Pairs struct {
	N                int64
	X, Y, XX, XY, YY float64
}

// Add takes one ride in; rides that lack either number are left out.
func (p *Pairs) Add(x, y float64) {
	if math.IsNaN(x) || math.IsNaN(y) {
		return
	}
	p.N++
	p.X += x
	p.Y += y
	p.XX += x * x
	p.XY += x * y
	p.YY += y * y
}

// Ratio is Y over X with the standard error of the ratio estimator, every ride
// a unit: Cochran, Sampling Techniques, 3rd ed., eq. 6.13, without the
// correction for a finite population.
func (p Pairs) Ratio() Estimate {
	if p.N == 0 || p.X <= 0 {
		return Estimate{Value: math.NaN(), SE: math.NaN()}
	}
	r := p.Y / p.X
	e := Estimate{Value: r, SE: math.NaN(), N: p.N}
	if p.N > 1 {
		n := float64(p.N)
		square := max(0, p.YY-2*r*p.XY+r*r*p.XX)
		e.SE = math.Sqrt(n/(n-1)*square) / p.X
	}
	return e
}

// Moments are the sums that a mean and its standard error need.
type Moments struct {
	N     int64
	X, XX float64
}

// Add takes one value in; NaN is left out.
func (m *Moments) Add(x float64) {
	if math.IsNaN(x) {
		return
	}
	m.N++
	m.X += x
	m.XX += x * x
}

// Mean of the values with its standard error.
func (m Moments) Mean() Estimate {
	if m.N == 0 {
		return Estimate{Value: math.NaN(), SE: math.NaN()}
	}
	n := float64(m.N)
	e := Estimate{Value: m.X / n, SE: math.NaN(), N: m.N}
	if m.N > 1 {
		e.SE = math.Sqrt(max(0, m.XX-m.X*m.X/n) / (n - 1) / n)
	}
	return e
}

// An Estimate is a number from N rides with its standard error by chance; SE
// is NaN where one ride alone cannot tell it.
type Estimate struct {
	Value, SE float64
	N         int64
}

// Interval is the 90 % range by chance, NaN where it cannot be told.
func (e Estimate) Interval() (low, high float64) {
	if e.N < 2 {
		return math.NaN(), math.NaN()
	}
	half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(e.N - 1)}.Quantile(0.95) * e.SE
	return e.Value - half, e.Value + half
}
