package fleetmade

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
	"cogledger/analysis/fleet/store/sqlite"
	"cogledger/cmd/internal/fleetrun"
	"cogledger/ingest/ride"
)

// What is planted in a fleet is found, with at most one false find of each kind.
func TestPlantedIsFound(t *testing.T) {
	o := Options{Rides: 220, Bikes: 20, Minutes: 12, Seed: 11, Aged: 0.3}
	if os.Getenv("COGLEDGER_FLEET_LONG") != "" {
		o = Options{Rides: 3000, Bikes: 100, Minutes: 20, Seed: 11}
	} else if testing.Short() {
		t.Skip("makes and reviews a fleet")
	}
	ctx, folder := context.Background(), t.TempDir()
	planted, err := Write(ctx, folder, o, func(int) {})
	must(t, err)
	s, err := sqlite.Open(ctx, filepath.Join(folder, "fleet.sqlite"))
	must(t, err)
	defer s.Close()
	bikes, err := fleetrun.ReadBikes(filepath.Join(folder, ProfileFolder), "")
	must(t, err)
	found, err := fleetrun.Find([]string{filepath.Join(folder, LogFolder)})
	must(t, err)
	report, err := fleetrun.Run(ctx, s, found, bikes, fleetrun.Options{})
	must(t, err)
	if report.Rides != o.Rides {
		t.Fatalf("%+v", report)
	}
	sums, err := s.Sums(ctx, store.Question{Least: fleet.LeastGroup, HideEnds: true})
	must(t, err)
	sum := fleet.Summarise(sums, fleet.Options{})

	var weak, lugging []string
	for _, b := range sum.Battery {
		if b.Verdict == fleet.StandsOut {
			weak = append(weak, b.Bike)
		}
	}
	for _, r := range sum.Riders {
		if r.Verdict == fleet.StandsOut {
			lugging = append(lugging, r.Name)
		}
	}
	batteryRatios(t, sum, planted)
	compare(t, "weak batteries", planted.WeakBatteries, weak)
	compare(t, "riders who lug", planted.Luggers, lugging)
	other, seen := 0, map[Ramp]bool{}
	for _, p := range sum.Places {
		if p.Verdict != fleet.StandsOut {
			continue
		}
		known := false
		for _, r := range planted.Ramps {
			// The ramps are 230 m long, and a place's cells reach some way beyond.
			if ride.GroundDistance(p.Lat, p.Lon, r.Lat, r.Lon) < 250 {
				known, seen[r] = true, true
			}
		}
		if !known {
			other++
			t.Logf("a place that is no ramp: %+v", p)
		}
	}
	if len(planted.Ramps) != 2 || len(seen) != 2 || other > 1 {
		t.Errorf("%d of %d ramps found, %d other places", len(seen), len(planted.Ramps), other)
	}
}

// batteryRatios compares the ratios of a fleet that has aged alike with those
// planted: about them, and nine ranges in ten hold theirs.
func batteryRatios(t *testing.T, sum *fleet.Summary, planted Planted) {
	t.Helper()
	held, logs := 0, 0.0
	for _, b := range sum.Battery {
		truth := planted.Resistance[b.Bike]
		t.Logf("%s %.3f (%.3f to %.3f), planted %.3f", b.Bike, b.Ratio.Value, b.Ratio.Low, b.Ratio.High, truth)
		if b.Ratio.Low <= truth && truth <= b.Ratio.High {
			held++
		}
		logs += math.Log(b.Ratio.Value/truth) / float64(len(sum.Battery))
	}
	if n := len(sum.Battery); n != len(planted.Resistance) || math.Abs(logs) > 0.03 || 10*held < 7*n {
		t.Errorf("batteries: %d of %d ranges hold what was planted; the ratios are off by a factor of %.3f", held, n, math.Exp(logs))
	}
}

func compare(t *testing.T, what string, want, got []string) {
	t.Helper()
	false_ := 0
	for _, g := range got {
		if !slices.Contains(want, g) {
			false_++
		}
	}
	for _, w := range want {
		if !slices.Contains(got, w) {
			t.Errorf("%s: %s is not found", what, w)
		}
	}
	if false_ > 1 {
		t.Errorf("%s: found %v, planted %v", what, got, want)
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
