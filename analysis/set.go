package analysis

import (
	"math"
	"slices"

	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/shifts"
	"cogledger/analysis/trend"
)

// Together gathers rides of one bike, in order of time. Rides without a start
// time keep their order and come last. A ride that two logs hold is taken once,
// with a note.
func Together(rides []*Result) *Set {
	set := &Set{}
	set.Rides, set.Notes = once(rides)
	if len(rides) == 0 {
		return set
	}
	set.Bike = rides[0].Bike
	slices.SortStableFunc(set.Rides, func(a, b *Result) int {
		switch {
		case a.Ride.Start.IsZero() && b.Ride.Start.IsZero():
			return 0
		case a.Ride.Start.IsZero():
			return 1
		case b.Ride.Start.IsZero():
			return -1
		}
		return a.Ride.Start.Compare(b.Ride.Start)
	})
	set.Bears = together(set.Rides)
	set.Total = total(set.Rides)
	perRide := make([][]shifts.Habit, len(set.Rides))
	for i, res := range set.Rides {
		perRide[i] = res.Habits
	}
	set.Habits = shifts.MergeHabits(set.Bike, perRide)
	set.Found = found(set.Rides)
	if len(set.Rides) > 1 {
		set.Trend = trend.Weeks(Sums(set.Rides), trend.Options{})
	}
	return set
}

// found is the rule over all rides that could be tried.
func found(rides []*Result) shifts.Rule {
	if len(rides) == 1 {
		return rides[0].Found
	}
	var parts [][]shifts.Trial
	var tried []*Result
	basis := doubt.Derived
	for _, res := range rides {
		if res.Trials[0] != nil {
			parts = append(parts, res.Trials.Whole())
			tried = append(tried, res)
			basis = basis.Weaker(res.Plan.Saving.Basis)
		}
	}
	if len(tried) == 1 {
		return tried[0].Found
	}
	return shifts.FindRule(parts, basis, modelled(tried...))
}

// total adds headlines up. What every ride's figure rests on is the same
// profile, so their errors go the same way and the intervals' ends are added;
// adding squares would claim too much.
func total(rides []*Result) Headline {
	var t Headline
	first := true
	loaded, lugging, classed := 0.0, 0.0, 0.0
	metered := 0.0 // m ridden in the rides whose battery's energy is known
	var withRange, usedWh, lostWh, lostLow, lostHigh float64
	for _, res := range rides {
		h := res.Headline
		t.Seconds += h.Seconds
		t.MovingSeconds += h.MovingSeconds
		t.Distance += h.Distance
		classed += h.ClassedShare * float64(h.MovingSeconds)
		for _, c := range res.Classes[drive.Lugging:] {
			loaded += float64(c.Seconds)
		}
		lugging += float64(res.Classes[drive.Lugging].Seconds)
		if !math.IsNaN(h.BatteryWh.Value) {
			metered += h.Distance
		}
		if !math.IsNaN(h.LuggingLossWh.Value) {
			withRange += h.Distance / 1000
			usedWh += h.BatteryWh.Value
			lostWh += h.LuggingLossWh.Value
			lostLow += h.LuggingLossWh.Low
			lostHigh += h.LuggingLossWh.High
		}
		if first {
			t.BatteryWh, t.RiderWh, t.LuggingLossWh, t.PlanSavingWh, t.WindingPeakC, t.Ascent, t.WindingLimitC = h.BatteryWh, h.RiderWh, h.LuggingLossWh, h.PlanSavingWh, h.WindingPeakC, h.Ascent, h.WindingLimitC
			first = false
			continue
		}
		t.BatteryWh = add(t.BatteryWh, h.BatteryWh)
		t.RiderWh = add(t.RiderWh, h.RiderWh)
		t.LuggingLossWh = add(t.LuggingLossWh, h.LuggingLossWh)
		t.PlanSavingWh = add(t.PlanSavingWh, h.PlanSavingWh)
		t.WindingPeakC = hotter(t.WindingPeakC, h.WindingPeakC)
		t.Ascent = known(t.Ascent) + known(h.Ascent)
	}
	t.WhPerKm = t.BatteryWh
	km := metered / 1000
	t.WhPerKm.Value, t.WhPerKm.Low, t.WhPerKm.High = ratio(t.BatteryWh.Value, km), ratio(t.BatteryWh.Low, km), ratio(t.BatteryWh.High, km)
	if len(rides) > 0 {
		capacity := rides[0].Bike.Battery.CapacityWh
		t.RangeGainKm = doubt.Figure{
			Value: rangeGain(capacity, withRange, usedWh, lostWh),
			Low:   rangeGain(capacity, withRange, usedWh, lostLow),
			High:  rangeGain(capacity, withRange, usedWh, lostHigh),
			Basis: t.LuggingLossWh.Basis,
		}
	}
	t.LuggingShare = lugging / loaded
	t.ClassedShare = classed / math.Max(1, float64(t.MovingSeconds))
	return t
}

// add sums two figures; a figure that is not known leaves the sum as it is, and
// the set's notes say which rides are not in it.
func add(a, b doubt.Figure) doubt.Figure {
	switch {
	case math.IsNaN(b.Value):
		return a
	case math.IsNaN(a.Value):
		return b
	}
	return doubt.Figure{Value: a.Value + b.Value, Low: a.Low + b.Low, High: a.High + b.High, Basis: a.Basis.Weaker(b.Basis)}
}

func hotter(a, b doubt.Figure) doubt.Figure {
	if math.IsNaN(a.Value) || b.Value > a.Value {
		return b
	}
	return a
}
