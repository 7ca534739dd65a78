// Package lesson finds what one rider can do differently, in numbers that the
// rider can see while riding: turns of the legs, and gears.
package lesson

import (
	"cmp"
	"math"
	"slices"

	"cogledger/analysis"
	"cogledger/analysis/doubt"
	"cogledger/analysis/shifts"
)

// A Lesson is what the rides of one bike carry. A part that they do not carry
// is nil or empty: too few seconds, a saving that doubt takes away.
type Lesson struct {
	Cadence *Cadence
	Start   *Start
	Climb   *Climb
	Habits  []shifts.Habit // carried by the data, dearest first

	Turns       []Turns      // how the motor ran by how fast the legs turned; nil where that cannot be told
	Saving      doubt.Figure // Wh, of the rideable plan over all rides
	Lost        doubt.Figure // Wh to lugging, of the battery's
	RangeGainKm doubt.Figure
	UsedWh      float64
	GearsKnown  float64 // share of the pedalling whose gear is known, 0..1; 0 without pedalling
	Rides       int
	Distance    float64 // m
}

// worthShare is the share of the battery's energy that better gears must save
// before anything is worth changing: common practice, and what the report asks.
const worthShare = 0.01

// From draws the lesson from the rides of a set.
func From(set *analysis.Set) Lesson {
	t := set.Total
	l := Lesson{
		Turns:  turns(set),
		Saving: t.PlanSavingWh, Lost: t.LuggingLossWh, RangeGainKm: t.RangeGainKm,
		UsedWh: t.BatteryWh.Value, GearsKnown: gearsKnown(set), Rides: len(set.Rides), Distance: t.Distance,
	}
	if !l.Known() || !l.Worth() {
		return l
	}
	l.Habits = carried(set.Habits)
	if l.Cadence = cadence(l.Turns); l.Cadence == nil {
		l.Cadence = climbCadence(set)
	}
	l.Start = start(set)
	l.Climb = climb(set)
	return l
}

// Worth reports whether better gears would save enough to be worth a word, and
// doubt leaves it so.
func (l Lesson) Worth() bool {
	for _, f := range []doubt.Figure{l.Saving, l.Lost} {
		if f.Value >= worthShare*l.UsedWh && !f.HoldsZero() { // false for NaN
			return true
		}
	}
	return false
}

// leastKnown is the share of the pedalling whose gear must be known before
// anything is said of the gears chosen.
const leastKnown = 0.5

// Known reports whether the rides tell at all what better gears would save.
func (l Lesson) Known() bool {
	return l.GearsKnown >= leastKnown && !(math.IsNaN(l.Saving.Value) && math.IsNaN(l.Lost.Value))
}

func gearsKnown(set *analysis.Set) float64 {
	named, pedalling := 0, 0
	for _, res := range set.Rides {
		named += res.Gears.NamedSeconds
		pedalling += res.Gears.PedallingSeconds
	}
	return float64(named) / max(1, float64(pedalling))
}

// carried keeps the habits that the data carry and that a cost outside its
// doubt makes worth changing, dearest first.
func carried(habits []shifts.Habit) []shifts.Habit {
	var kept []shifts.Habit
	for _, h := range habits {
		if h.Carried && h.Count > 0 && h.Cost.Value > 0 && !h.Cost.HoldsZero() {
			kept = append(kept, h)
		}
	}
	slices.SortStableFunc(kept, func(a, b shifts.Habit) int { return cmp.Compare(b.Cost.Value, a.Cost.Value) })
	return kept
}
