package doubt_test

import (
	"math"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/ledger"
	"cogledger/analysis/made"
	"cogledger/analysis/road"
	"cogledger/analysis/shifts"
)

// Each ride is made by the forward simulator on a bike drawn from the
// profile's tolerances, sensors included, and read with the profile itself.
// The 90 % intervals of battery energy, lugging loss and the plan's saving
// must hold the truth in 85 to 95 rides of a hundred. The truth comes from the
// simulator, which shares no formula with the analysis.
func TestIntervalsHoldTheTruthAsOftenAsTheySay(t *testing.T) {
	rides := 200
	if testing.Short() {
		rides = 40
	}
	p := bike.Example()
	course := made.CoastRoad()
	names := []string{"battery energy", "lugging loss", "plan's saving"}
	held := make([]int, len(names))
	var widths, misses [3]float64
	for k := range rides {
		seed := uint64(1000 + k)
		m := made.Simulate(made.Drawn(p, seed), made.Errand(course, seed, 7), made.Lugger(), seed)
		r, err := m.Tracks[0].Ride()
		if err != nil {
			t.Fatal(err)
		}
		inf, err := gears.Infer(r, p, gears.Options{})
		if err != nil {
			t.Fatal(err)
		}
		var plan shifts.Plan
		var matrix drive.Matrix
		figures := doubt.Interval(p, p.Tolerances(), func(p *bike.Profile) []float64 {
			rd := road.Load(r, p, road.Options{})
			d := drive.Run(r, p, inf, rd, drive.Options{})
			matrix.Fill(r, p, inf, rd, d)
			if plan.Gear == nil {
				plan = shifts.Make(r, p, inf, rd, d, &matrix)
			}
			lost, _ := ledger.Lugging(d, &matrix, p)
			return []float64{sum(d.Terminal) / 3600, lost, shifts.PlanSaving(&matrix, inf.Index, plan)}
		})
		rerun, err := m.Replay(plan.Gear)
		if err != nil {
			t.Fatal(err)
		}
		truth := []float64{m.Truth.TerminalWh(), m.Truth.LuggingWh(), m.Truth.TerminalWh() - rerun.TerminalWh}
		for i, f := range figures {
			if f.Low <= truth[i] && truth[i] <= f.High {
				held[i]++
			}
			widths[i] += (f.High - f.Low) / 2
			misses[i] += (f.Value - truth[i])
		}
		if testing.Verbose() && k < 10 {
			t.Logf("%d s: %.3v; truth %.3v", r.Len(), figures, truth)
		}
	}
	for i, name := range names {
		share := 100 * float64(held[i]) / float64(rides)
		t.Logf("%s: held in %.1f %% of %d rides; mean half width %.3f Wh, mean error %+.3f Wh", name, share, rides, widths[i]/float64(rides), misses[i]/float64(rides))
		if low, high := 85.0, 95.0; rides >= 200 && (share < low || share > high) {
			t.Errorf("%s: %.1f %% is outside %.0f to %.0f %%", name, share, low, high)
		}
	}
}

func sum(x []float64) (total float64) {
	for _, v := range x {
		if !math.IsNaN(v) {
			total += v
		}
	}
	return total
}
