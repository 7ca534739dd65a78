package report

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Thinning keeps order, ends and every column's extremes, and the limit, for
// any columns with gaps.
func TestThinKeepsExtremes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 3000).Draw(t, "n")
		limit := rapid.IntRange(20, 600).Draw(t, "limit")
		columns := make([][]float64, rapid.IntRange(1, 3).Draw(t, "columns"))
		for k := range columns {
			column := make([]float64, n)
			noise := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), uint64(k)))
			for i := range column {
				column[i] = noise.NormFloat64()
				if i%7 == k {
					column[i] = math.NaN()
				}
			}
			columns[k] = column
		}
		kept := thin(0, n, limit, columns...)
		if !slices.IsSorted(kept) || kept[0] != 0 || kept[len(kept)-1] != n-1 {
			t.Fatalf("order or ends: %v", kept)
		}
		if len(kept) > max(limit, 2*len(columns))+2 {
			t.Fatalf("%d points kept, limit %d", len(kept), limit)
		}
		for k, column := range columns {
			lo, hi := extent(column, 0, n)
			var seen []float64
			for _, i := range kept {
				seen = append(seen, column[i])
			}
			if a, b := extent(seen, 0, len(seen)); a != lo && finite(lo) || b != hi && finite(hi) {
				t.Fatalf("column %d: extremes %g %g became %g %g", k, lo, hi, a, b)
			}
		}
	})
}

func TestThinKeepsGaps(t *testing.T) {
	column := make([]float64, 5000)
	for i := 2000; i < 3000; i++ {
		column[i] = math.NaN()
	}
	gap := 0
	for _, i := range thin(0, len(column), 100, column) {
		if math.IsNaN(column[i]) {
			gap++
		}
	}
	if gap == 0 {
		t.Error("a gap of a fifth of the ride is drawn over")
	}
}

func TestNiceScale(t *testing.T) {
	for _, c := range []struct {
		lo, hi         float64
		steps          int
		low, high, per float64
		why            string
	}{
		{0, 97, 4, 0, 100, 25, "round ends outside the data"},
		{-4.7, 4.9, 2, -5, 5, 5, "zero stays on a mark"},
		{46.2, 49.8, 2, 46, 50, 2, "no zero is forced on"},
		{5, 5, 4, 4.5, 5.5, 0.25, "a constant gets room"},
	} {
		s := niceScale(c.lo, c.hi, c.steps)
		if s.low != c.low || s.high != c.high || math.Abs(s.step-c.per) > 1e-12 {
			t.Errorf("%s: [%g, %g] gives %+v", c.why, c.lo, c.hi, s)
		}
	}
}

func TestGroupedNumbers(t *testing.T) {
	for _, c := range []struct {
		v      float64
		digits int
		want   string
	}{
		{1234, 0, "1234"}, {12345, 0, "12\u202f345"}, {1234567.5, 1, "1\u202f234\u202f567.5"}, {-3.14, 1, "−3.1"}, {-0.04, 1, "0.0"}, {0, 0, "0"},
	} {
		if got := grouped(c.v, c.digits); got != c.want {
			t.Errorf("%g with %d decimals: %q, want %q", c.v, c.digits, got, c.want)
		}
	}
	if got := number(math.NaN(), 1, "Wh"); got != unknown {
		t.Errorf("NaN is printed as %q", got)
	}
}

// Exact definitions: the international mile is 1609.344 m, the foot 0.3048 m
// (international yard and pound agreement, 1959); °F = 1.8 °C + 32.
func TestImperial(t *testing.T) {
	u := newUnits(true)
	for _, c := range []struct {
		m         measure
		si, want  float64
		tolerance float64
	}{
		{u.distance, 1609.344, 1, 1e-12}, {u.height, 0.3048, 1, 1e-12}, {u.speed, 0.44704, 1, 1e-12},
		{u.temperature, 100, 212, 1e-9}, {u.temperature, -40, -40, 1e-9}, {u.perDistance, 10, 16.09344, 1e-9}, {u.km(), 1.609344, 1, 1e-12},
	} {
		if got := c.m.of(c.si); math.Abs(got-c.want) > c.tolerance {
			t.Errorf("%g SI is %g %s, want %g", c.si, got, c.m.unit, c.want)
		}
	}
}
