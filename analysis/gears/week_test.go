package gears_test

import (
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
	"cogledger/analysis/made"
)

// TestMadeWeeks names the gears of the demo's week, on its own bike and on one
// with two rings. The truth is that of the forward simulation in package made.
func TestMadeWeeks(t *testing.T) {
	double := bike.Example()
	double.Drivetrain = wideDouble().Drivetrain
	for name, p := range map[string]*bike.Profile{"one ring": bike.Example(), "two rings": double} {
		t.Run(name, func(t *testing.T) {
			var a tally
			for _, mr := range made.Week(p, made.Options{Seed: 1}) {
				r, err := mr.Tracks[0].Ride()
				if err != nil {
					t.Fatal(err)
				}
				f, err := gears.Infer(r, p, gears.Options{})
				if err != nil {
					t.Fatal(err)
				}
				for _, n := range f.Notes {
					t.Errorf("%s: said %v", mr.Name, n)
				}
				a.add(f, mr.Truth.Gear, len(p.Drivetrain.Cogs), func(i int) bool { return pedalling(r, i) })
			}
			t.Log(a.String(), a.curve())
			if a.named/a.all < 0.95 || a.right/a.named < 0.99 || a.ringRight/a.named < 0.99 || a.calibrationError() > 0.03 {
				t.Errorf("%s; want 95 %% named, 99 %% right, ring 99 %%, error 0.03", a.String())
			}
		})
	}
}
