package lesson

import (
	"math"
	"testing"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/made"
)

// Youden's index by hand. Under 60: all 100 lugging seconds and 20 of 100
// others, 0.8 apart; under 55: 60 and 5, 0.55; under 65: 100 and 60, 0.4.
func TestCadenceByHand(t *testing.T) {
	got := cadence([]Turns{{50, 60, 5, 0}, {55, 40, 10, 5}, {60, 0, 30, 10}, {65, 0, 40, 0}})
	if got == nil || got.ShiftBelow != 60 || got.LuggingUnder != 1 || math.Abs(got.FineUnder-0.2) > 1e-12 {
		t.Errorf("%+v", got)
	}
	for name, counts := range map[string][]Turns{
		"too little lugging": {{50, 30, 0, 0}, {55, 0, 500, 0}},
		"nothing tells":      {{50, 100, 100, 0}, {55, 100, 100, 0}},
		"only lugging":       {{50, 100, 0, 0}},
		"nothing":            nil,
	} {
		if c := cadence(counts); c != nil {
			t.Errorf("%s: %+v", name, c)
		}
	}
}

func TestNearestGear(t *testing.T) {
	all := bike.Example().Gears()
	for k, g := range all {
		if got := nearest(all, math.Log(g.Ratio*1.01)); got != k {
			t.Errorf("near %s: %s", g, all[got])
		}
	}
}

func week(t *testing.T, rider made.Rider) *analysis.Set {
	t.Helper()
	p := bike.Example()
	var results []*analysis.Result
	for _, m := range made.Week(p, made.Options{Seed: 3, Riders: []made.Rider{rider}}) {
		r, err := m.Tracks[0].Ride()
		if err != nil {
			t.Fatal(err)
		}
		res, err := analysis.Review(r, p, analysis.Options{SkipReplays: true})
		if err != nil {
			t.Fatal(err)
		}
		results = append(results, res)
	}
	return analysis.Together(results)
}

// A lesson holds to the rides it is drawn from.
func TestLessonOfAMadeWeek(t *testing.T) {
	set := week(t, made.Lugger())
	l := From(set)
	if !l.Known() || !l.Worth {
		t.Fatalf("nothing is worth changing for a rider who lugs: %+v", l.Saving)
	}
	counted := 0
	for _, n := range l.Turns {
		counted += n.Lugging + n.InBand + n.TooFast
	}
	loaded := 0
	for _, res := range set.Rides {
		for _, c := range res.Drive.Class {
			if c.Loaded() {
				loaded++
			}
		}
	}
	if counted == 0 || counted > loaded {
		t.Errorf("%d seconds counted of %d", counted, loaded)
	}
	for i := 1; i < len(l.Habits); i++ {
		if l.Habits[i].Cost.Value > l.Habits[i-1].Cost.Value {
			t.Error("habits are not in the order of their cost")
		}
	}
	if r := l.Rule; r.Parts != len(set.Rides) || !(r.LowRPM < r.HighRPM) || l.Cadence != nil {
		t.Errorf("rule %+v beside cadence %+v", r, l.Cadence)
	}
	c := cadence(l.Turns)
	if c == nil {
		c = climbCadence(set)
	}
	if c == nil {
		t.Error("no number of turns for a rider who lugs on climbs")
	} else if c.ShiftBelow%turnStep != 0 || c.ShiftBelow < slowest || c.LuggingUnder < 0.7 {
		t.Errorf("cadence %+v", c)
	}
	all := set.Bike.Gears()
	if s := l.Start; s != nil {
		if s.Taller > s.Of || s.Gear < 0 || s.Gear >= len(all) {
			t.Errorf("start %+v", s)
		}
	}
	if c := l.Climb; c != nil {
		m := set.Rides[c.Ride].Moments
		if all[c.Moment.GearTo].Ratio >= all[c.Moment.GearFrom].Ratio || c.Moment.Saving.HoldsZero() {
			t.Errorf("climb %+v", c.Moment)
		}
		for _, other := range m {
			if other.Advised && other.Grade >= climbs && lower(set.Bike, other) && other.Saving.Value > c.Moment.Saving.Value {
				t.Error("another climb would save more")
			}
		}
		for i := 1; i < len(c.Shape); i++ {
			if c.Shape[i].Metres <= c.Shape[i-1].Metres {
				t.Fatal("the road's shape runs backwards")
			}
		}
	}
}

// A hub motor turns with the wheel: no number of leg turns tells how it runs.
func TestNoCadenceForAHubMotor(t *testing.T) {
	hub := *bike.Example()
	hub.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: 5}
	set := &analysis.Set{Bike: &hub, Rides: week(t, made.Lugger()).Rides}
	if got := turns(set); got != nil {
		t.Errorf("%v", got)
	}
	if got := climbCadence(set); got != nil {
		t.Errorf("%+v", got)
	}
}
