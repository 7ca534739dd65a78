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
	sum, planted := summary(t, o, fleetrun.Options{})
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
	if n := sum.All.Doubted; n < 30 || n == sum.All.Rides || math.IsNaN(sum.DoubtShare) {
		t.Errorf("the profiles' doubt rests on %d of %d rides", n, sum.All.Rides)
	}
	batteryRatios(t, sum, planted)
	compare(t, "weak batteries", planted.WeakBatteries, weak)
	compare(t, "riders who lug", planted.Luggers, lugging)
	if seen, other := rampsFound(t, sum, planted); len(planted.Ramps) != 2 || seen != 2 || other > 1 {
		t.Errorf("%d of %d ramps found, %d other places", seen, len(planted.Ramps), other)
	}
}

// summary makes a fleet, reviews it and sums it up.
func summary(t *testing.T, o Options, run fleetrun.Options) (*fleet.Summary, Planted) {
	t.Helper()
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
	report, err := fleetrun.Run(ctx, s, found, bikes, run)
	must(t, err)
	if report.Rides != o.Rides {
		t.Fatalf("%+v", report)
	}
	sums, err := s.Sums(ctx, store.Question{Least: fleet.LeastGroup, HideEnds: true})
	must(t, err)
	return fleet.Summarise(sums, fleet.Options{}), planted
}

// rampsFound counts the planted ramps among the places that stand out, and those
// places that are none.
func rampsFound(t *testing.T, sum *fleet.Summary, planted Planted) (found, other int) {
	t.Helper()
	seen := map[Ramp]bool{}
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
	return len(seen), other
}

// The ramps of small fleets are found, nine in ten, and of the other stretches
// at most one in fifty is called out. The rule was made on other seeds.
func TestRampsInSmallFleets(t *testing.T) {
	if testing.Short() {
		t.Skip("makes and reviews five fleets")
	}
	found, other, ramps, places := 0, 0, 0, 0
	for seed := uint64(201); seed <= 205; seed++ {
		sum, planted := summary(t, Options{Rides: 200, Bikes: 20, Minutes: 12, Seed: seed}, fleetrun.Options{DoubtEvery: 1 << 30})
		f, o := rampsFound(t, sum, planted)
		t.Logf("seed %d: %d of %d ramps, %d other of %d places", seed, f, len(planted.Ramps), o, len(sum.Places))
		found, other, ramps, places = found+f, other+o, ramps+len(planted.Ramps), places+len(sum.Places)-f
	}
	if 10*found < 9*ramps || 50*other > places {
		t.Errorf("%d of %d ramps found; %d of %d other places called out", found, ramps, other, places)
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
