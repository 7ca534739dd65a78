package gears

import "math"

// noise is the variance of log development within a gear as a sum of what the
// ride itself shows: a constant part, speed noise that weighs more when slow,
// and what is left of the lag while speed changes. Rounding of cadence is
// known and comes on top.
type noise struct {
	base   float64 // variance
	slow   float64 // variance of speed, (m/s)^2
	change float64 // square of the lag's own error, s2
}

const leastSpread = 0.004 // relative; no logged ratio is better

// set writes the standard deviations into the view.
func (v *view) set(n noise) {
	for t, k := range v.kind {
		if k < starting {
			continue
		}
		v.sure[t] = float32(1 / math.Sqrt(n.base+n.slow*float64(v.slow[t])+n.change*float64(v.change[t]*v.change[t])+float64(v.round[t])))
	}
}

// A noiseFit gathers squared deviations and fits the noise to them by weighted
// least squares with no part below zero.
type noiseFit struct {
	a [3][3]float64
	b [3]float64
	n float64
}

// add takes a squared deviation beyond rounding, with what it may come from.
// sure is 1 over the standard deviation expected so far.
func (f *noiseFit) add(square, slow, change, sure, weight float64) {
	s2 := sure * sure
	w := weight * s2 * s2 // a square's own variance goes with the variance squared
	x := [3]float64{1, slow, change}
	for i := range x {
		for j := range x {
			f.a[i][j] += w * x[i] * x[j]
		}
		f.b[i] += w * x[i] * square
	}
	f.n += weight
}

// solve tries every set of active parts and keeps the best that has none
// below zero.
func (f *noiseFit) solve() noise {
	least, best := math.Inf(1), [3]float64{leastSpread * leastSpread}
	for set := 1; set < 8; set++ {
		x, ok := f.solveSet(set)
		if !ok {
			continue
		}
		if cost := f.cost(x); cost < least {
			least, best = cost, x
		}
	}
	return noise{max(best[0], leastSpread*leastSpread), best[1], best[2]}
}

func (f *noiseFit) cost(x [3]float64) float64 {
	sum := 0.0
	for i := range x {
		sum -= 2 * f.b[i] * x[i]
		for j := range x {
			sum += x[i] * f.a[i][j] * x[j]
		}
	}
	return sum
}

// solveSet solves for the parts in the set alone, by elimination.
func (f *noiseFit) solveSet(set int) (x [3]float64, ok bool) {
	a, b := f.a, f.b
	for i := range 3 {
		if set>>i&1 == 0 {
			a[i] = [3]float64{}
			a[i][i], b[i] = 1, 0
			for j := range 3 {
				if j != i {
					a[j][i] = 0
				}
			}
		}
	}
	for i := range 3 {
		if !(math.Abs(a[i][i]) > 1e-300) {
			return x, false
		}
		for j := i + 1; j < 3; j++ {
			k := a[j][i] / a[i][i]
			for c := i; c < 3; c++ {
				a[j][c] -= k * a[i][c]
			}
			b[j] -= k * b[i]
		}
	}
	for i := 2; i >= 0; i-- {
		sum := b[i]
		for j := i + 1; j < 3; j++ {
			sum -= a[i][j] * x[j]
		}
		x[i] = sum / a[i][i]
		if !(x[i] >= 0) || math.IsInf(x[i], 0) {
			return x, false
		}
	}
	return x, true
}
