package report

import (
	"fmt"
	"math"
	"sort"

	"cogledger/analysis/shifts"
)

// A rulePart is the trade's rule "slow legs: shift down, fast legs: shift up"
// in the numbers of one bike, at the powers that the ride asked for.
type rulePart struct {
	Sentence string
	Plan     []string // what the plan that knows the whole road saves at most
	Table    table
}

// rule is nil where the motor never was loaded, or its powers are not known.
func (v *view) rule(u units) *rulePart {
	near, powers := v.nearPowers()
	if len(powers) == 0 {
		return nil
	}
	middle, hard := v.ruleRow(powers[len(powers)/2]), v.ruleRow(powers[len(powers)*9/10])
	first, again := v.Rule[middle], v.Rule[hard]
	r := &rulePart{Table: v.ruleTable(near, u), Plan: v.planWords(u)}
	if ofHub(first) {
		r.Sentence = fmt.Sprintf("A hub motor knows the bike’s speed only. At about %s, the middle of what it gave here, it lugs below %s, is best near %s and turns faster than it needs above %s.",
			u.power.text(first.ShaftW), u.speed.text(first.LowSpeed), u.speed.text(first.BestSpeed), u.speed.text(first.HighSpeed))
		if hard != middle {
			r.Sentence += fmt.Sprintf(" At about %s, its hardest tenth, the same are %s, %s and %s.",
				u.power.text(again.ShaftW), u.speed.bare(again.LowSpeed), u.speed.bare(again.BestSpeed), u.speed.text(again.HighSpeed))
		}
		return r
	}
	r.Sentence = fmt.Sprintf("Slow legs, shift down; fast legs, shift up. At about %s, the middle of what the motor gave here, it lugs when the legs turn below %s, is best near %s and turns faster than it needs above %s.",
		u.power.text(first.ShaftW), u.rpm.text(first.LowRPM), u.rpm.bare(first.BestRPM), u.rpm.bare(first.HighRPM))
	if hard != middle {
		r.Sentence += fmt.Sprintf(" At about %s, its hardest tenth, the same are %s, %s and %s.",
			u.power.text(again.ShaftW), u.rpm.bare(again.LowRPM), u.rpm.bare(again.BestRPM), u.rpm.text(again.HighRPM))
	}
	return r
}

// foundWords says what a rule that needs no foresight gives.
func foundWords(rule shifts.Rule, u units) []string {
	switch {
	case rule.Parts == 0:
		return nil
	case !rule.Worth:
		return []string{"No rule of two cadences would have saved more than its shifts are worth."}
	}
	words := fmt.Sprintf("A rule to ride by: shift down when your legs fall below %s, up above %s; and down before you stop, while you still pedal.", u.rpm.text(rule.LowRPM), u.rpm.bare(rule.HighRPM))
	if !finite(rule.Saving.Value) {
		return []string{words}
	}
	tested := fmt.Sprintf("each of %d rides by the rule found on the others", rule.Parts)
	if rule.Halves {
		tested = "each half of the ride by the rule found on the other"
	}
	if rule.Saving.HoldsZero() {
		return []string{words, fmt.Sprintf("What it saves cannot be told from nothing yet: %s, %s.", figure(rule.Saving, u.energy), tested)}
	}
	return []string{words, fmt.Sprintf("It saves %s without any foresight: %s, with a second to react.", figure(rule.Saving, u.energy), tested)}
}

// planWords says what the plan that knows the whole road saves, and does to the
// legs.
func (v *view) planWords(u units) []string {
	if !finite(v.Headline.PlanSavingWh.Value) {
		return nil
	}
	legs := v.Plan.LegsOutS - v.Plan.LegsOutRidden
	change := "no change to the legs"
	switch {
	case legs < 0:
		change = span(-legs) + " less with the legs out of their band"
	case legs > 0:
		change = span(legs) + " more with the legs out of their band"
	}
	if v.Plan.ForLegs() {
		return []string{fmt.Sprintf("The plan, which knows the whole road, is no saving here: it spends %s for the legs’ sake, with %s.", u.energy.text(-v.Plan.Saving.Value), change)}
	}
	return []string{fmt.Sprintf("The plan, which knows the whole road, saves at most %s, with %s.", figure(v.Plan.Saving, u.energy), change)}
}

// nearPowers counts the loaded seconds by the row of the rule that is nearest
// in power, and lists their powers in order.
func (v *view) nearPowers() (near []int, powers []float64) {
	near = make([]int, len(v.Rule))
	if len(v.Rule) == 0 {
		return near, nil
	}
	for i, w := range v.Drive.Shaft {
		if v.class(i).Loaded() && finite(w) {
			near[v.ruleRow(w)]++
			powers = append(powers, w)
		}
	}
	sort.Float64s(powers)
	return near, powers
}

func (v *view) ruleRow(shaftW float64) int {
	best := 0
	for k, row := range v.Rule {
		if math.Abs(row.ShaftW-shaftW) < math.Abs(v.Rule[best].ShaftW-shaftW) {
			best = k
		}
	}
	return best
}

func (v *view) ruleTable(near []int, u units) table {
	hub := ofHub(v.Rule[0])
	what := "cadence"
	unit := u.rpm.unit
	if hub {
		what, unit = "speed", u.speed.unit
	}
	t := table{
		Caption: "By motor power: the " + what + " below which the motor lugs, its best, and the one above which it turns faster than it needs",
		Columns: columns("#Motor, W", "#Ridden near it", "#Lugs below, "+unit, "#Best, "+unit, "#Needless above, "+unit, "#Motor at best, rpm", "#Efficiency at best, %"),
	}
	for k, row := range v.Rule {
		low, best, high := u.rpm.bare(row.LowRPM), u.rpm.bare(row.BestRPM), u.rpm.bare(row.HighRPM)
		if hub {
			low, best, high = u.speed.bare(row.LowSpeed), u.speed.bare(row.BestSpeed), u.speed.bare(row.HighSpeed)
		}
		t.Rows = append(t.Rows, tableRow{Cells: texts(grouped(row.ShaftW, 0), span(near[k]), low, best, high, u.rpm.bare(row.MotorBest), cellNumber(row.Efficiency*100, 0))})
	}
	return t
}

// ofHub reports whether the row is a hub motor's, which has no cadences.
func ofHub(row shifts.BandRow) bool { return !finite(row.BestRPM) }
