package shifts

import (
	"cogledger/analysis/doubt"
)

// habitCost is what a habit cost, with its interval.
func (w *weigher) habitCost(h *Habit, moments []Moment) doubt.Figure {
	cost, low, high := 0.0, 1.0, 1.0
	switch h.Kind {
	case ShiftUnderLoad: // wears the chain, takes no energy to speak of
	case FullAssist:
		cost = h.sum(w.fullAssistCost)
		part := max(w.tolerance("motor.resistance_ohm"), w.tolerance("battery.resistance_ohm"))
		low, high = 1-part, 1+part
	case HardBursts:
		cost = h.sum(w.burstCost)
		part := w.tolerance("battery.resistance_ohm")
		low, high = 1-part, 1+part
	default:
		cost = h.sum(func(from, to int) float64 {
			return savingBetween(w.m, w.inf.Index, w.plan.Gear, from, to)
		})
		low, high = spread(h, moments)
	}
	return doubt.Figure{
		Value: cost, Low: min(cost*low, cost*high), High: max(cost*low, cost*high),
		Basis: w.d.Knowledge.Basis().Weaker(doubt.Derived),
	}
}

func (h *Habit) sum(cost func(from, to int) float64) float64 {
	total := 0.0
	for k, from := range h.Seconds {
		total += cost(from, h.Ends[k])
	}
	return total
}

// spread is the interval of the moments that a habit touches, as parts of
// their saving: what is known of the moments is known of the habit.
func spread(h *Habit, moments []Moment) (low, high float64) {
	var value, atLeast, atMost float64
	i := 0
	for k, from := range h.Seconds {
		for i < len(moments) && moments[i].To <= from {
			i++
		}
		for j := i; j < len(moments) && moments[j].From < h.Ends[k]; j++ {
			value += moments[j].Saving.Value
			atLeast += moments[j].Saving.Low
			atMost += moments[j].Saving.High
		}
	}
	if value <= 0 {
		return 1, 1
	}
	return max(atLeast/value, -mostSpread), min(atMost/value, mostSpread)
}

// mostSpread bounds an interval, in parts of its value: of savings that nearly
// cancel out no more is known than that.
const mostSpread = 10

// tolerance of a number of the profile as a part of it.
func (w *weigher) tolerance(key string) float64 {
	if w.tolerances == nil {
		w.tolerances = w.p.Tolerances()
	}
	for _, t := range w.tolerances {
		if t.Key == key {
			return t.Fraction
		}
	}
	return 0
}

// fullAssistCost is what three quarters of the power for a third longer would
// save in heat, in Wh: heat goes with the square of the current, so a quarter.
func (w *weigher) fullAssistCost(from, to int) float64 {
	joules := 0.0
	for s := from; s < to; s++ {
		if heat := w.d.Copper[s] + w.d.BatteryHeat[s]; heat > 0 {
			joules += (1 - gentlerPower) * heat
		}
	}
	return joules / joulesPerWh
}

// burstCost is the heat in Wh that the same charge, drawn at a gentle current
// over a longer time, would not have made in the battery.
func (w *weigher) burstCost(from, to int) float64 {
	gentle, joules := gentleShare*w.unit.BatteryLimit, 0.0
	for s := from; s < to; s++ {
		if i := w.d.Amps[s]; i > gentle {
			joules += w.d.BatteryHeat[s] * (1 - gentle/i)
		}
	}
	return joules / joulesPerWh
}
