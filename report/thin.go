package report

import "math"

// thin picks the seconds to draw out of [from, to) so that no more than about
// limit of them are left and every column keeps its extremes: the range is cut
// into equal buckets, and of each bucket the seconds of the lowest and of the
// highest value of each column stay. A bucket without any value keeps its first
// second, so that gaps stay gaps. Short ranges are kept whole.
//
// It serves drawings only; no figure is ever computed from thinned columns.
func thin(from, to, limit int, columns ...[]float64) []int {
	n := to - from
	if n <= 0 {
		return nil
	}
	kept := make([]int, 0, min(n, limit+2*len(columns)))
	if n <= limit {
		for i := from; i < to; i++ {
			kept = append(kept, i)
		}
		return kept
	}
	buckets := max(1, limit/max(1, 2*len(columns)))
	mark := make([]bool, 0, n/buckets+2)
	for b := range buckets {
		lo, hi := from+n*b/buckets, from+n*(b+1)/buckets
		mark = mark[:0]
		for range hi - lo {
			mark = append(mark, false)
		}
		any := false
		for _, column := range columns {
			least, most := -1, -1
			for i := lo; i < hi; i++ {
				v := valueAt(column, i)
				if math.IsNaN(v) {
					continue
				}
				if least < 0 || v < column[least] {
					least = i
				}
				if most < 0 || v > column[most] {
					most = i
				}
			}
			if least >= 0 {
				mark[least-lo], mark[most-lo], any = true, true, true
			}
		}
		if !any && hi > lo {
			mark[0] = true
		}
		for k, keep := range mark {
			if keep || b == 0 && k == 0 || b == buckets-1 && k == len(mark)-1 {
				kept = append(kept, lo+k)
			}
		}
	}
	return kept
}

// valueAt is the column's value at second i, NaN outside it.
func valueAt(column []float64, i int) float64 {
	if i < 0 || i >= len(column) {
		return math.NaN()
	}
	return column[i]
}

// extent is the least and the greatest finite value, NaN without any.
func extent(column []float64, from, to int) (lo, hi float64) {
	lo, hi = math.NaN(), math.NaN()
	for i := from; i < min(to, len(column)); i++ {
		v := column[i]
		if !finite(v) {
			continue
		}
		if !(v >= lo) {
			lo = v
		}
		if !(v <= hi) {
			hi = v
		}
	}
	return lo, hi
}

// A scale is a drawn axis: round ends and the step between its marks.
type scale struct{ low, high, step float64 }

// niceScale finds round ends around [lo, hi] with about the given number of steps.
func niceScale(lo, hi float64, steps int) scale {
	if !finite(lo) || !finite(hi) {
		return scale{0, 1, 1}
	}
	if hi < lo {
		lo, hi = hi, lo
	}
	size := max(math.Abs(lo), math.Abs(hi))
	if size > 1e300 { // nothing of a ride; their difference may be no number
		return scale{0, 1, 1}
	}
	if hi-lo < 1e-9*max(1, size) {
		half := max(0.5, 1e-6*size)
		hi, lo = hi+half, lo-half
	}
	raw := (hi - lo) / float64(steps)
	step := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, f := range []float64{1, 2, 2.5, 5, 10} {
		if step*f >= raw*0.999 {
			step *= f
			break
		}
	}
	return scale{math.Floor(lo/step+1e-9) * step, math.Ceil(hi/step-1e-9) * step, step}
}

// marks lists the values at which the axis is labelled.
func (s scale) marks() []float64 {
	var all []float64
	for k := 0; k < 50; k++ {
		v := s.low + float64(k)*s.step
		if v > s.high+s.step/1e6 {
			break
		}
		all = append(all, v)
	}
	return all
}

// at places v between 0 (low) and 1 (high).
func (s scale) at(v float64) float64 { return (v - s.low) / (s.high - s.low) }
