package shifts

import (
	"fmt"

	"cogledger/analysis/bike"
)

// When a habit is worth a sentence.
const (
	fewest     = 3   // opportunities that carry an advice
	manyShifts = 20  // the same for load in a shift: seconds tell one shift badly
	oftenShare = 0.2 // of the opportunities
	leastWh    = 0.1 // a cost below it is not worth a word
)

// AdviseHabits decides which habits the data can carry and which are worth a
// sentence: seen at least twice, in a fifth of the opportunities or more, and,
// unless it only wears the chain, at a cost whose interval does not hold zero.
func AdviseHabits(p *bike.Profile, habits []Habit) {
	for i := range habits {
		h := &habits[i]
		rule := ruleOf(h.Kind)
		h.Carried = h.Measurable && (rule.countsAlone || h.Opportunities >= max(fewest, rule.fewest))
		h.Advice, h.RangeKm = "", h.rangeKm(p.Battery.CapacityWh)
		often := h.Opportunities == 0 || rule.countsAlone || h.Rate() >= oftenShare
		worth := rule.free || !h.Cost.HoldsZero() && h.Cost.Value >= leastWh
		if h.Carried && h.Count >= 2 && often && worth {
			h.Advice = rule.advice(*h)
		}
	}
}

// rangeKm is how much farther the battery's capacity would go without the cost;
// NaN where hardly anything would be left to drive on.
func (h Habit) rangeKm(capacityWh float64) float64 {
	left := h.OverWh - h.Cost.Value
	if !(h.OverWh > 0) || !(left > 0.05*h.OverWh) {
		return nan
	}
	return capacityWh * h.OverKm * (1/left - 1/h.OverWh)
}

// A habitRule tells how a kind of habit is judged and spoken of.
type habitRule struct {
	countsAlone bool // it has no opportunities to be counted against
	free        bool // it costs no energy to speak of
	fewest      int  // opportunities that carry it, where the usual few do not
	advice      func(h Habit) string
}

func ruleOf(kind string) habitRule {
	switch kind {
	case TallStart:
		return habitRule{advice: func(h Habit) string {
			return fmt.Sprintf("Shift down before you stop: %d of %d starts were in too tall a gear, which cost %s.", h.Count, h.Opportunities, wattHours(h.Cost.Value))
		}}
	case LateDownShift:
		return habitRule{countsAlone: true, advice: func(h Habit) string {
			return fmt.Sprintf("Shift down as soon as your legs slow: %d times the motor had left its band for more than %.0f s before a lower gear came (half the time %.0f s or more), which cost %s.",
				h.Count, lateS, h.DelayS, wattHours(h.Cost.Value))
		}}
	case OneGear:
		return habitRule{advice: func(h Habit) string {
			return fmt.Sprintf("Use your gears: in %d of %d stretches of three minutes you stayed in one gear where the road asked for two shifts or more, which cost %s.", h.Count, h.Opportunities, wattHours(h.Cost.Value))
		}}
	case SpinningOut:
		return habitRule{countsAlone: true, advice: func(h Habit) string {
			return fmt.Sprintf("Shift up when your legs get fast: %d times the motor ran faster than its band although a taller gear was free, which cost %s.", h.Count, wattHours(h.Cost.Value))
		}}
	case FullAssist:
		return habitRule{advice: func(h Habit) string {
			return fmt.Sprintf("On steep ground take a lower gear and a lower assist level: in %d of %d steep stretches full assist dragged a motor below its band; a quarter less power, for a third longer, would have kept %s of heat out of motor and battery.", h.Count, h.Opportunities, wattHours(h.Cost.Value))
		}}
	case HardBursts:
		return habitRule{countsAlone: true, advice: func(h Habit) string {
			return fmt.Sprintf("Ask for power more gently: %d times the battery gave more than %.0f %% of its current limit for %d s or longer, which made %s more heat in it than a gentle pull does.", h.Count, 100*burstShare, burstS, wattHours(h.Cost.Value))
		}}
	case ShiftUnderLoad:
		return habitRule{free: true, fewest: manyShifts, advice: func(h Habit) string {
			return fmt.Sprintf("Ease off the pedals for the moment of the shift: %d of %d shifts were made under full pull, which wears chain and cogs.", h.Count, h.Opportunities)
		}}
	}
	return habitRule{advice: func(Habit) string { return "" }}
}

func wattHours(wh float64) string {
	if wh < 10 {
		return fmt.Sprintf("%.1f Wh", wh)
	}
	return fmt.Sprintf("%.0f Wh", wh)
}
