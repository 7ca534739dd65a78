package storetest

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
)

// summed compares every tally with a plain loop over the rows. Sums may differ
// by the order of adding, nothing else.
func summed(t *testing.T, open func() store.Store) {
	s := open()
	outcomes := Drawn(20, 300)
	must(t, s.Put(context.Background(), outcomes))
	rows := Expected(outcomes)
	for _, monthly := range []bool{false, true} {
		got, err := s.Sums(context.Background(), store.Question{Monthly: monthly})
		must(t, err)
		span := func(r *fleet.Ride) (string, bool) {
			if r.Start.IsZero() {
				return "", false
			}
			year, week := r.Start.ISOWeek()
			return time.Date(year, 1, 4, 0, 0, 0, 0, time.UTC).AddDate(0, 0, 7*(week-1)).Format(time.DateOnly), true
		}
		if monthly {
			span = func(r *fleet.Ride) (string, bool) { return r.Month, !r.Start.IsZero() }
		}
		by := map[string]func(*fleet.Ride) (string, bool){
			"all":    func(*fleet.Ride) (string, bool) { return "", true },
			"bikes":  func(r *fleet.Ride) (string, bool) { return r.Bike, true },
			"riders": func(r *fleet.Ride) (string, bool) { return r.Rider, true },
			"groups": func(r *fleet.Ride) (string, bool) { return r.Group, true },
			"spans":  span,
		}
		for name, tallies := range map[string][]fleet.Tally{"all": {got.All}, "bikes": got.Bikes, "riders": got.Riders, "groups": got.Groups, "spans": got.Spans} {
			want := tallied(rows.Rides, by[name])
			if name == "spans" && !monthly {
				for i := range tallies {
					tallies[i].Key = "" // a week's number; the order tells it
				}
				for i := range want {
					want[i].Key = ""
				}
			}
			if d := cmp.Diff(want, tallies, cmpopts.EquateNaNs(), cmpopts.EquateApprox(1e-12, 1e-9)); d != "" {
				t.Errorf("%s differ (-want +got):\n%s", name, d)
			}
		}
		if d := cmp.Diff(habits(rows), got.Habits, cmpopts.EquateApprox(1e-12, 1e-9)); d != "" {
			t.Errorf("habits differ (-want +got):\n%s", d)
		}
	}
}

// doubles puts one ride beside a cut upload of it and beside a second device's
// log of it: it counts once, the richest log is the one, and another bike's ride
// at the same time counts as well.
func doubles(t *testing.T, open func() store.Store) {
	s := open()
	start := time.Date(2026, 5, 4, 6, 0, 0, 0, time.UTC)
	log := func(path, bike, basis string, begin time.Time, seconds int64, metres, wh float64) fleet.Outcome {
		o := whole(30, 0)
		o.Habits, o.Segments, o.Rides = nil, nil, o.Rides[:1]
		r := &o.Rides[0]
		o.Log.Content, o.Log.Fingerprint = path, path
		rename(&o, path)
		r.Content, r.Part, r.Start, r.Month, r.Seconds, r.DistanceM, r.BatteryWh, r.Basis = path, 0, begin, "2026-05", seconds, metres, wh, basis
		r.Assignment = fleet.Assignment{Bike: bike}
		o.Log.Assignment = r.Assignment
		return o
	}
	must(t, s.Put(context.Background(), []fleet.Outcome{
		log("whole.fit", "one", "measured", start, 3600, 20000, 200),
		log("cut.fit", "one", "measured", start, 1500, 8000, 80),
		log("watch.gpx", "one", "modelled", start.Add(20*time.Second), 3590, 20300, 260),
		log("next.fit", "one", "measured", start.Add(2*time.Hour), 3600, 20000, 190),
		log("other.fit", "two", "measured", start, 3600, 20000, 210),
	}))
	got, err := s.Sums(context.Background(), store.Question{})
	must(t, err)
	if got.All.Rides != 3 || math.Abs(got.All.Km-60) > 1e-9 {
		t.Errorf("%d rides of %g km, want 3 of 60", got.All.Rides, got.All.Km)
	}
	var left []string
	for _, d := range got.Doubles {
		left = append(left, d.Path+" of "+d.Of)
	}
	if d := cmp.Diff([]string{"cut.fit of whole.fit", "watch.gpx of whole.fit"}, left); d != "" {
		t.Errorf("left out (-want +got):\n%s", d)
	}
}

func cells(t *testing.T, open func() store.Store) {
	s := open()
	outcomes := Drawn(21, 400)
	must(t, s.Put(context.Background(), outcomes))
	rows := Expected(outcomes)
	for _, q := range []store.Question{{}, {Least: 3}, {Least: 2, HideEnds: true}} {
		got, err := s.Sums(context.Background(), q)
		must(t, err)
		want := cellTallies(rows, q)
		if len(want) == 0 {
			t.Fatalf("%+v: the rows drawn have no such cell", q)
		}
		if d := cmp.Diff(want, got.Cells, cmpopts.EquateNaNs(), cmpopts.EquateApprox(1e-9, 1e-9)); d != "" {
			t.Errorf("%+v: cells differ (-want +got):\n%s", q, d)
		}
	}
}

func problems(t *testing.T, open func() store.Store) {
	s := open()
	outcomes := Drawn(22, 60)
	twin := whole(22, 0)
	rename(&twin, "zz/twin.fit")
	must(t, s.Put(context.Background(), append(outcomes, twin)))
	got, err := s.Sums(context.Background(), store.Question{})
	must(t, err)
	var want []fleet.Problem
	for _, o := range outcomes {
		if o.Log.Problem != "" {
			want = append(want, fleet.Problem{Path: o.Log.Path, Text: o.Log.Problem})
		}
	}
	if d := cmp.Diff(want, got.Problems); d != "" || got.Logs != 61 || got.Duplicates != 1 {
		t.Errorf("%d logs, %d duplicates; problems differ (-want +got):\n%s", got.Logs, got.Duplicates, d)
	}
	if got, err = s.Sums(context.Background(), store.Question{Problems: 2}); err != nil || len(got.Problems) != 2 {
		t.Errorf("%d problems where two were asked for: %v", len(got.Problems), err)
	}
}

// Of usable logs with one content all but one are copies, whichever of them has
// the rides, and also when the one that had them has left.
func copies(t *testing.T, open func() store.Store) {
	s := open()
	put := func(path string, o fleet.Outcome) {
		rename(&o, path)
		must(t, s.Put(context.Background(), []fleet.Outcome{o}))
	}
	expect := func(logs, duplicates int64) {
		t.Helper()
		got, err := s.Sums(context.Background(), store.Question{})
		must(t, err)
		if got.Logs != logs || got.Duplicates != duplicates {
			t.Errorf("%d logs, %d duplicates; want %d and %d", got.Logs, got.Duplicates, logs, duplicates)
		}
	}
	broken := fleet.Outcome{Log: whole(23, 0).Log}
	broken.Log.Problem = "no bike"
	put("d/ride.fit", broken)
	expect(1, 0)
	for _, folder := range []string{"b", "a", "c"} {
		put(folder+"/ride.fit", whole(23, 0))
	}
	expect(4, 2)
	put("a/ride.fit", whole(23, 1))
	expect(4, 1)
	put("b/ride.fit", whole(23, 1))
	expect(4, 1)
	put("c/ride.fit", broken)
	expect(4, 1)
}

// tallied sums rides by a key, in the order of the key.
func tallied(rides []fleet.Ride, by func(*fleet.Ride) (string, bool)) []fleet.Tally {
	groups := make(map[string][]*fleet.Ride)
	for i := range rides {
		if k, counts := by(&rides[i]); counts {
			groups[k] = append(groups[k], &rides[i])
		}
	}
	var all []fleet.Tally
	for _, k := range sortedKeys(groups) {
		all = append(all, tally(k, groups[k]))
	}
	return all
}

func tally(key string, rides []*fleet.Ride) fleet.Tally {
	t := fleet.Tally{Key: key, WindingPeakC: math.NaN(), WindingLimitC: math.NaN()}
	bikes, riders, days := map[string]bool{}, map[string]bool{}, map[int64]bool{}
	var capacity fleet.Moments
	for _, r := range rides {
		bikes[r.Bike] = true
		riders[r.Rider] = true
		t.Group = max(t.Group, r.Group)
		t.Rides++
		if !r.Start.IsZero() {
			days[r.Start.Unix()/86400] = true
			if t.First.IsZero() || r.Start.Before(t.First) {
				t.First = r.Start
			}
			if r.Start.After(t.Last) {
				t.Last = r.Start
			}
		}
		t.MovingS += r.MovingS
		t.Km += or0(r.DistanceM / 1000)
		t.Loss.Add(r.DistanceM/1000, r.LossWh)
		t.Battery.Add(r.DistanceM/1000, r.BatteryWh)
		t.PlanWh += or0(r.PlanSavingWh)
		t.DoubtWh += or0((r.LossHigh - r.LossLow) / 2)
		if !math.IsNaN(r.LossLow) {
			t.DoubtOfWh += or0(r.LossWh)
			t.Doubted++
		}
		t.LuggingS += r.LuggingS
		t.InBandS += r.InBandS
		t.SpinningS += r.SpinningS
		t.LegsLuggingS += r.LegsLuggingS
		t.PedallingS += r.PedallingS
		t.NamedS += r.NamedS
		if r.WindingPeakC > t.WindingPeakC || math.IsNaN(t.WindingPeakC) {
			t.WindingPeakC = r.WindingPeakC
		}
		if r.WindingLimitC < t.WindingLimitC || math.IsNaN(t.WindingLimitC) {
			t.WindingLimitC = r.WindingLimitC
		}
		t.OverLimitS += r.OverLimitS
		if r.OverLimitS > 0 {
			t.OverRides++
		}
		t.Resistance.Add(r.ResistanceRatio)
		if !math.IsNaN(r.ResistanceRatio) {
			t.ResistanceS += r.ResistanceS
		}
		capacity.Add(r.CapacityWh)
		if r.Basis == "modelled" {
			t.Modelled++
		}
		if r.Made {
			t.Made++
		}
		t.Warnings += r.Warnings
	}
	delete(riders, "")
	t.Bikes, t.Riders, t.Days = int64(len(bikes)), int64(len(riders)), int64(len(days))
	t.CapacityWh = capacity.Mean().Value
	return t
}

type rideKey struct {
	content string
	part    int64
}

func byKey(rides []fleet.Ride) map[rideKey]*fleet.Ride {
	all := make(map[rideKey]*fleet.Ride)
	for i := range rides {
		all[rideKey{rides[i].Content, rides[i].Part}] = &rides[i]
	}
	return all
}

func habits(d Dump) []fleet.HabitTally {
	type sum struct {
		fleet.HabitTally
		bikes, riders map[string]bool
	}
	rides, sums := byKey(d.Rides), make(map[string]*sum)
	for _, h := range d.Habits {
		r := rides[rideKey{h.Content, h.Part}]
		k := r.Group + "\x00" + h.Kind
		if sums[k] == nil {
			sums[k] = &sum{fleet.HabitTally{Group: r.Group, Kind: h.Kind}, map[string]bool{}, map[string]bool{}}
		}
		s := sums[k]
		s.Count += h.Count
		s.Opportunities += h.Opportunities
		s.CostWh += or0(h.CostWh)
		if h.Count > 0 {
			s.Rides++
			s.bikes[r.Bike] = true
			s.riders[r.Rider] = true
		}
	}
	var all []fleet.HabitTally
	for _, k := range sortedKeys(sums) {
		s := sums[k]
		delete(s.riders, "")
		s.Bikes, s.Riders = int64(len(s.bikes)), int64(len(s.riders))
		all = append(all, s.HabitTally)
	}
	return all
}

func cellTallies(d Dump, q store.Question) []fleet.CellTally {
	type key struct{ cell, direction int64 }
	type sum struct {
		fleet.CellTally
		bikes, riders   map[string]bool
		grade, lat, lon fleet.Moments
	}
	rides, sums := byKey(d.Rides), make(map[key]*sum)
	for _, s := range d.Segments {
		if q.HideEnds && s.NearEnd {
			continue
		}
		k := key{s.Cell, s.Direction}
		if sums[k] == nil {
			sums[k] = &sum{CellTally: fleet.CellTally{Cell: s.Cell, Direction: s.Direction}, bikes: map[string]bool{}, riders: map[string]bool{}}
		}
		c, r := sums[k], rides[rideKey{s.Content, s.Part}]
		c.Rides++
		c.Seconds += s.ToS - s.FromS
		c.LossWh += or0(s.LossWh)
		c.grade.Add(s.Grade)
		c.lat.Add(s.Lat)
		c.lon.Add(s.Lon)
		c.bikes[r.Bike] = true
		c.riders[r.Rider] = true
	}
	var all []fleet.CellTally
	for _, c := range sums {
		delete(c.riders, "")
		c.Bikes, c.Riders = int64(len(c.bikes)), int64(len(c.riders))
		c.Grade, c.Lat, c.Lon = c.grade.Mean().Value, c.lat.Mean().Value, c.lon.Mean().Value
		if c.Bikes >= q.Least && (c.Riders == 0 || c.Riders >= q.Least) {
			all = append(all, c.CellTally)
		}
	}
	sortCells(all)
	return all
}
