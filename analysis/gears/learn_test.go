package gears_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
	"cogledger/ingest/ride"
)

// TestLearnRecorded learns real drivetrains from nothing. The cogs are those
// that the bikes recorded by number; none may be invented, and those ridden
// steadily must be found.
func TestLearnRecorded(t *testing.T) {
	for _, c := range []struct {
		recorded
		mustFind   []int   // by teeth, ridden for at least 20 s in a row or so
		ringMetres float64 // of the smallest ring, what is known of it
	}{
		{recordedRides()[0], []int{27, 21, 19, 17, 15}, 85.5},
		{recordedRides()[1], []int{28, 25, 23, 21, 19, 17, 11}, 34 * 2.089},
	} {
		t.Run(c.file, func(t *testing.T) {
			r := readFIT(t, c.path(t))
			l, err := gears.Learn([]*ride.Ride{r}, gears.Known{}, gears.Options{})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("rings %v (assumed %v), cogs %v, ring metres %.2f, %.1f %% of %.0f s explained", l.Chainrings, l.AssumedRings, l.Cogs, l.RingMetres, 100*l.Explained, l.Steady)
			for _, cog := range c.mustFind {
				if !slices.Contains(l.Cogs, cog) {
					t.Errorf("cog of %d teeth not found: %v", cog, l.Cogs)
				}
			}
			for _, cog := range l.Cogs {
				if !slices.Contains(c.bike.Drivetrain.Cogs, cog) {
					t.Errorf("cog of %d teeth invented", cog)
				}
			}
			if math.Abs(l.RingMetres[0]/c.ringMetres-1) > 0.01 {
				t.Errorf("ring metres %.2f, want %.2f", l.RingMetres[0], c.ringMetres)
			}
			if !l.Steps || l.Explained < 0.9 || !l.AssumedRings {
				t.Errorf("steps %v, explained %.3f, rings assumed %v", l.Steps, l.Explained, l.AssumedRings)
			}
			if len(l.Notes) == 0 || !strings.Contains(l.Notes[0].Text, "only ring teeth times circumference") {
				t.Errorf("not said that the ring cannot be told: %v", l.Notes)
			}
		})
	}
}

// TestLearnRoad learns from road rides without shift records.
func TestLearnRoad(t *testing.T) {
	const module = "github.com/tormoder/fit"
	for _, file := range []string{
		"testdata/bpg/garmin.fit",
		"testdata/dcrainmaker/Edge810-Vector-2013-08-16-15-35-10.fit",
	} {
		r := readFIT(t, moduleFile(t, module, file))
		l, err := gears.Learn([]*ride.Ride{r}, gears.Known{}, gears.Options{})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %v x %v, %.1f %% of %.0f s explained", file, l.Chainrings, l.Cogs, 100*l.Explained, l.Steady)
		if l.Explained < 0.9 || len(l.Lines) > 14 {
			t.Errorf("%s: %d gears explain %.1f %% of the steady seconds, want 90 %%", file, len(l.Lines), 100*l.Explained)
		}
	}
}

func TestLearnMade(t *testing.T) {
	s := setups()["wheel sensor"]
	var rides []*ride.Ride
	for seed := range uint64(3) {
		r, _ := madeRideOn(single(), s, 3600, seed)
		rides = append(rides, r)
	}
	double, _ := madeRideOn(wideDouble(), s, 7200, 5)
	for _, c := range []struct {
		name         string
		rides        []*ride.Ride
		known        gears.Known
		bike         *bike.Profile
		rings        []int
		assumedRings bool
	}{
		{"ring known", rides, gears.Known{Chainrings: []int{42}}, single(), []int{42}, false},
		{"wheel known", rides, gears.Known{Circumference: 2.268}, single(), []int{42}, true},
		{"cassette known", rides, gears.Known{Cogs: single().Drivetrain.Cogs, Circumference: 2.268}, single(), []int{42}, true},
		{"both rings known", []*ride.Ride{double}, gears.Known{Chainrings: []int{52, 36}}, wideDouble(), []int{36, 52}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			l, err := gears.Learn(c.rides, c.known, gears.Options{})
			if err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(l.Chainrings, c.rings) || l.AssumedRings != c.assumedRings {
				t.Errorf("rings %v, assumed %v", l.Chainrings, l.AssumedRings)
			}
			if len(l.Cogs) < 5 {
				t.Errorf("only %v found", l.Cogs)
			}
			for _, cog := range l.Cogs {
				if !slices.Contains(c.bike.Drivetrain.Cogs, cog) {
					t.Errorf("cog of %d teeth invented", cog)
				}
			}
			if off := l.Circumference/c.bike.Circumference() - 1; math.Abs(off) > 0.02 {
				t.Errorf("wheel of %.3f m, want about %.3f", l.Circumference, c.bike.Circumference())
			}
			for _, key := range []string{"wheel.rollout_mm", "drivetrain.chainrings", "drivetrain.cogs"} {
				if l.LineNotes()[key] == "" {
					t.Errorf("no note on %s", key)
				}
			}
		})
	}
}

// hubRide rides with cadence about 75 at the given developments in turn, for
// some 40 s each.
func hubRide(developments []float64, seed uint64) *ride.Ride {
	rng := rand.New(rand.NewPCG(seed, 1))
	n := 40 * len(developments)
	r := ride.New(n)
	speed, cadence := make([]float64, n), make([]float64, n)
	turn := 75.0
	for t := range n {
		turn += 0.2*(75-turn) + 1.5*rng.NormFloat64()
		cadence[t] = math.Round(turn)
		speed[t] = turn / 60 * developments[t/40] * (1 + 0.004*rng.NormFloat64())
	}
	r.SetColumn(ride.Speed, speed, nil, ride.WheelSensor)
	r.SetColumn(ride.CadenceRPM, cadence, nil, ride.Device)
	return r
}

// TestLearnHub finds the steps of a gear hub with given ratios, and none on a
// hub without steps. Ratios as published for an eight-speed hub (from memory).
func TestLearnHub(t *testing.T) {
	hub := []float64{0.53, 0.64, 0.75, 0.85, 1.00, 1.22, 1.42, 1.62}
	var stepped []float64
	for i := range 24 {
		stepped = append(stepped, hub[(i*5)%7+1]*2.268*38/18)
	}
	l, err := gears.Learn([]*ride.Ride{hubRide(stepped, 1)}, gears.Known{HubGears: hub, Chainrings: []int{38}, Cogs: []int{18}}, gears.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if !l.Steps || l.Explained < 0.95 || math.Abs(l.Circumference/2.268-1) > 0.01 {
		t.Errorf("steps %v, explained %.2f, wheel %.3f m, want 2.268", l.Steps, l.Explained, l.Circumference)
	}
	var steps []int
	for _, line := range l.Lines {
		steps = append(steps, line.HubStep)
	}
	if !slices.Equal(steps, []int{2, 3, 4, 5, 6, 7, 8}) {
		t.Errorf("steps %v, want 2 to 8", steps)
	}

	rng := rand.New(rand.NewPCG(3, 3))
	var smooth []float64
	for range 40 {
		smooth = append(smooth, 2.6*math.Exp(1.2*rng.Float64()))
	}
	l, err = gears.Learn([]*ride.Ride{hubRide(smooth, 2)}, gears.Known{}, gears.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if l.Steps || len(l.Lines) > 0 || len(l.Notes) == 0 || !strings.Contains(l.Notes[0].Text, "no gears found") {
		t.Errorf("a hub without steps: %d lines, explained %.2f, notes %v", len(l.Lines), l.Explained, l.Notes)
	}
}

func TestLearnRefuses(t *testing.T) {
	empty := ride.New(100)
	still := hubRide([]float64{4}, 1)
	still.SetColumn(ride.CadenceRPM, make([]float64, still.Len()), nil, ride.Device)
	for name, rides := range map[string][]*ride.Ride{"no ride": nil, "no channels": {empty}, "cranks never turn": {still}} {
		if l, err := gears.Learn(rides, gears.Known{}, gears.Options{}); err == nil {
			t.Errorf("%s: learnt %+v", name, l)
		}
	}
}
