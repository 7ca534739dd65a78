// Package lesson finds what one rider can do differently, in numbers that the
// rider can see while riding: turns of the legs, and gears.
package lesson

import (
	"cogledger/analysis"
	"cogledger/analysis/doubt"
	"cogledger/analysis/shifts"
)

// A Lesson is what the rides of one bike carry. A part that they do not carry
// is nil or empty: too few seconds, a saving that doubt takes away.
type Lesson struct {
	Bears analysis.Verdict // whether the rides can bear an advice at all
	Worth bool             // whether better gears would save enough to be worth a word

	Rule    shifts.Rule // two cadences that would have served; Parts is 0 where none is worth it
	Cadence *Cadence    // nil where there is a rule, which is told instead
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

// From draws the lesson from the rides of a set.
func From(set *analysis.Set) Lesson {
	t := set.Total
	worth, known := t.WorthChanging()
	bears := set.Bears.Advice
	if bears.Given() && !known {
		if bears = t.Undecided(set.Bike); bears.Given() {
			bears.Why = "the rides do not tell what better gears would save"
		}
	}
	l := Lesson{
		Turns: turns(set),
		Bears: bears, Worth: worth,
		Saving: t.PlanSavingWh, Lost: t.LuggingLossWh, RangeGainKm: t.RangeGainKm,
		UsedWh: t.BatteryWh.Value, GearsKnown: gearsKnown(set), Rides: len(set.Rides), Distance: t.Distance,
	}
	if !l.Known() || !l.Worth {
		return l
	}
	l.Habits = analysis.Advised(set.Habits, t)
	if set.Found.Worth {
		l.Rule = set.Found
	} else if l.Cadence = cadence(l.Turns); l.Cadence == nil {
		l.Cadence = climbCadence(set)
	}
	l.Start = start(set)
	l.Climb = climb(set)
	return l
}

// Known reports whether the rides tell at all what better gears would save.
func (l Lesson) Known() bool { return l.Bears.Given() }

func gearsKnown(set *analysis.Set) float64 {
	named, pedalling := 0, 0
	for _, res := range set.Rides {
		named += res.Gears.NamedSeconds
		pedalling += res.Gears.PedallingSeconds
	}
	return float64(named) / max(1, float64(pedalling))
}
