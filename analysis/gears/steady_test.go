package gears

import (
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"
)

// The reference is gonum's quantile of the sorted values from below and above.
func TestMiddle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Map(rapid.IntRange(-9, 9), func(i int) float64 { return float64(i) }), 1, 60).Draw(t, "values")
		sorted, mirrored := slices.Clone(values), slices.Clone(values)
		for i := range mirrored {
			mirrored[i] = -mirrored[i]
		}
		slices.Sort(sorted)
		slices.Sort(mirrored)
		want := (stat.Quantile(0.5, stat.Empirical, sorted, nil) - stat.Quantile(0.5, stat.Empirical, mirrored, nil)) / 2
		if got := middle(values); got != want {
			t.Fatalf("middle of %v is %v, not %v", values, got, want)
		}
	})
}
