package fleet

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/golang/geo/s2"
)

// Rosner's own data and result as the NIST/SEMATECH e-Handbook of Statistical
// Methods, 1.3.5.17.3, has them, from memory: three of 54 are outliers at 5 %,
// all high. Two-sided 5 % is 2.5 % upwards. The data have no low tail.
func TestOutlyingAsRosner(t *testing.T) {
	values := []float64{-0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56, 1.58, 1.65, 1.69, 1.70, 1.76, 1.77,
		1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40, 2.47, 2.54, 2.62, 2.64, 2.90, 2.92,
		2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01}
	slices.SortFunc(values, descending)
	if n := outlying(values, 0.025); n != 3 {
		t.Errorf("%d outliers, want 3", n)
	}
}

// Fleets without any place that costs more than chance has it: seldom is one
// found, however few stretches there are, and whether or not roads that few take
// trail off below.
func TestFewPlacesAreFoundWhereNoneAre(t *testing.T) {
	draw := rand.New(rand.NewPCG(2020, 1))
	const fleets = 2000
	for _, trail := range []bool{false, true} {
		for _, stretches := range []int{8, 14, 40} {
			found := 0
			for range fleets {
				logs := make([]float64, stretches)
				for i := range logs {
					logs[i] = 0.5 * draw.NormFloat64()
					if trail && logs[i] < 0 {
						logs[i] *= 3
					}
				}
				slices.SortFunc(logs, descending)
				if n := outlying(logs, falsePlaces); n > 0 && logs[n-1] > median(logs[n:])+math.Log(farMore) {
					found++
				}
			}
			t.Logf("%d stretches, trailing off: %v: in %.2f %% of fleets", stretches, trail, 100*float64(found)/fleets)
			if share := float64(found) / fleets; share > 0.02 {
				t.Errorf("%d stretches, trailing off: %v: one is found in %.1f %% of fleets without any", stretches, trail, 100*share)
			}
		}
	}
}

// A ramp's cells are no peers of one another: four of them that cost more than
// anything else hide neither their own ramp nor another.
func TestCellsOfARampAreOneStretch(t *testing.T) {
	ramp := s2.CellIDFromLatLng(s2.LatLngFromDegrees(47.05, 8.3)).Parent(CellLevel)
	next := ramp.EdgeNeighbors()[0]
	after := next.EdgeNeighbors()[0]
	other := ramp.Advance(70000)
	cells := []CellTally{
		{Cell: int64(ramp), Direction: 7, Bikes: 9, LossWh: 9}, {Cell: int64(next), Direction: 7, Bikes: 9, LossWh: 8},
		{Cell: int64(next), Direction: 0, Bikes: 9, LossWh: 6}, {Cell: int64(after), Direction: 0, Bikes: 9, LossWh: 7},
		{Cell: int64(other), Direction: 3, Bikes: 9, LossWh: 5},
	}
	for i := range 9 {
		cells = append(cells, CellTally{Cell: int64(ramp.Advance(int64(3000 + 500*i))), Direction: 1, Bikes: 9, LossWh: 0.3 + 0.1*float64(i%4)})
	}
	var out []Place
	for _, p := range places(cells) {
		if p.Verdict == StandsOut {
			out = append(out, p)
		}
	}
	if len(out) != 2 || out[0].Cells != 4 || out[0].LossWh != 30 || out[1].Cells != 1 {
		t.Errorf("%+v", out)
	}
}
