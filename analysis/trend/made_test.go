package trend_test

import (
	"math"
	"slices"
	"testing"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/made"
	"cogledger/analysis/trend"
)

// week makes, logs, reads and reviews a week of one rider.
func week(t *testing.T, seed uint64, rider made.Rider) []trend.Ride {
	t.Helper()
	p := bike.Example()
	var all []trend.Ride
	for _, m := range made.Week(p, made.Options{Seed: seed, Riders: []made.Rider{rider}}) {
		r, err := m.Tracks[0].Ride()
		if err != nil {
			t.Fatal(err)
		}
		res, err := analysis.Review(r, p, analysis.Options{SkipDoubt: true, SkipReplays: true})
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, trend.Sum(res.Ride, res.Road, res.Drive, res.Plan, res.Habits))
	}
	return all
}

func called(c trend.Comparison) []string {
	var keys []string
	for _, ch := range c.Changes {
		if ch.Verdict == trend.Improved || ch.Verdict == trend.Worse {
			keys = append(keys, ch.Key+" "+ch.Verdict.String())
		}
	}
	return keys
}

// Twenty pairs of made weeks of a rider who has not changed: any figure may be
// called changed in at most two. The simulator draws wind, lights, load of the
// day and the rider's decisions anew for every week.
func TestMadeWeeksWithoutChange(t *testing.T) {
	pairs := 20
	if testing.Short() {
		pairs = 6
	}
	changed := 0
	for k := range pairs {
		rider := []made.Rider{made.Lugger(), made.Shifter()}[k%2]
		c := trend.Compare(week(t, uint64(1000+2*k), rider), week(t, uint64(1001+2*k), rider), trend.Options{})
		if keys := called(c); len(keys) > 0 {
			changed++
			t.Logf("pair %d: %v", k, keys)
		}
	}
	t.Logf("%d of %d pairs called changed", changed, pairs)
	if changed > 2 {
		t.Errorf("%d of %d pairs without a change are called changed", changed, pairs)
	}
}

// A rider who lugs and then has learnt to shift is found, and never called
// worse in the main figures; the other way round it is called worse.
func TestMadeChangeIsFound(t *testing.T) {
	for seed := range uint64(3) {
		lugs, shifts := week(t, 50+seed, made.Lugger()), week(t, 60+seed, made.Shifter())
		for _, key := range []string{trend.LuggingShare, trend.EnergyPerKm} {
			if ch, _ := find(trend.Compare(lugs, shifts, trend.Options{}), key); ch.Verdict != trend.Improved {
				t.Errorf("seed %d, learnt: %s is called %s: %+v", seed, key, ch.Verdict, ch.Difference)
			}
			if ch, _ := find(trend.Compare(shifts, lugs, trend.Options{}), key); ch.Verdict != trend.Worse {
				t.Errorf("seed %d, forgot: %s is called %s: %+v", seed, key, ch.Verdict, ch.Difference)
			}
		}
	}
}

func find(c trend.Comparison, key string) (trend.Change, bool) { return c.Change(key) }

// Rides on flat days against rides on hilly and long days, the rider being the
// same: the energy a kilometre as metered differs by several per cent, the
// corrected one by less than the margin, and no figure is called changed.
func TestOtherRoadsAreNoChange(t *testing.T) {
	pick := func(rides []trend.Ride, days ...int) []trend.Ride {
		var some []trend.Ride
		for i, r := range rides {
			if slices.Contains(days, i%7) {
				some = append(some, r)
			}
		}
		return some
	}
	for seed := range uint64(2) {
		town := pick(append(week(t, 300+seed, made.Lugger()), week(t, 310+seed, made.Lugger())...), 0, 1, 5)
		hills := pick(append(week(t, 320+seed, made.Lugger()), week(t, 330+seed, made.Lugger())...), 2, 4, 6)
		c := trend.Compare(town, hills, trend.Options{})
		if keys := called(c); len(keys) > 0 {
			t.Errorf("seed %d: %v", seed, keys)
		}
		if metered := c.After.WhPerKm/c.Before.WhPerKm - 1; math.Abs(metered) < 0.03 {
			t.Errorf("seed %d: the energy as metered differs by %.3f only: the test does not test", seed, metered)
		}
		if e, _ := c.Change(trend.EnergyPerKm); math.Abs(e.Difference.Value) > e.Margin {
			t.Errorf("seed %d: corrected energy %.2f and %.2f Wh/km", seed, e.Before.Value, e.After.Value)
		}
	}
}
