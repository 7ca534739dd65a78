package report

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// A drawn axis is made of numbers, whatever its ends are: the wrong way round,
// equal, huge or none.
func TestScaleIsMadeOfNumbers(t *testing.T) {
	ends := rapid.OneOf(rapid.Float64Range(-1e4, 1e4), rapid.Float64Range(-1e299, 1e299), rapid.SampledFrom([]float64{0, math.Copysign(0, -1), 1e-300, math.NaN(), math.Inf(1), math.Inf(-1)}))
	rapid.Check(t, func(t *rapid.T) {
		lo, hi := ends.Draw(t, "lo"), ends.Draw(t, "hi")
		s := niceScale(lo, hi, rapid.IntRange(1, 12).Draw(t, "steps"))
		if !finite(s.low) || !finite(s.high) || !finite(s.step) || s.step <= 0 || s.high <= s.low {
			t.Fatalf("%+v", s)
		}
		for _, m := range append(s.marks(), s.at(s.low), s.at(s.high)) {
			if !finite(m) {
				t.Fatalf("%+v: %v", s, s.marks())
			}
		}
		if finite(lo) && finite(hi) && (s.low > min(lo, hi)+1e-6*s.step || s.high < max(lo, hi)-1e-6*s.step) {
			t.Fatalf("%+v leaves out an end of %g and %g", s, lo, hi)
		}
	})
}
