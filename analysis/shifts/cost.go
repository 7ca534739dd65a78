package shifts

import (
	"cogledger/analysis/doubt"
)

// An owner gives each second of the ride to the first habit that asks for it,
// so that the costs of a ride's habits add up, and together take no more from
// the seconds in which the motor lugs than was lost in them.
type owner struct {
	taken []bool
	lost  []float64 // W lost to lugging, zero where the motor does not lug
}

// sum adds up what a habit cost in the seconds that no habit before it owns, in
// Wh. cost is in W.
func (o *owner) sum(h *Habit, cost func(s int) float64) float64 {
	joules := 0.0
	for k, from := range h.Seconds {
		for s := from; s < h.Ends[k]; s++ {
			if o.taken[s] {
				continue
			}
			o.taken[s] = true
			if v := cost(s); v == v { // not NaN
				joules += v
			}
		}
	}
	return joules / joulesPerWh
}

// habitCost is what a habit cost, with its interval.
func (w *weigher) habitCost(h *Habit, moments []Moment, o *owner) doubt.Figure {
	cost, low, high := 0.0, 1.0, 1.0
	switch h.Kind {
	case ShiftUnderLoad: // wears the chain, takes no energy to speak of
	case FullAssist:
		cost = o.sum(h, func(s int) float64 { return min(w.fullAssistCost(s), o.lost[s]) })
		part := max(w.tolerance("motor.resistance_ohm"), w.tolerance("battery.resistance_ohm"))
		low, high = 1-part, 1+part
	case HardBursts:
		cost = o.sum(h, w.burstCost)
		part := w.tolerance("battery.resistance_ohm")
		low, high = 1-part, 1+part
	case SpinningOut:
		cost = o.sum(h, w.saved)
		low, high = spread(h, moments)
	default:
		cost = o.sum(h, func(s int) float64 { return min(w.saved(s), o.lost[s]) })
		low, high = spread(h, moments)
	}
	return doubt.Figure{
		Value: cost, Low: min(cost*low, cost*high), High: max(cost*low, cost*high),
		Basis: w.d.Knowledge.Basis().Weaker(doubt.Derived),
	}
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
// save in heat, in W: heat goes with the square of the current, so a quarter.
func (w *weigher) fullAssistCost(s int) float64 {
	return (1 - gentlerPower) * max(0, w.d.Copper[s]+w.d.BatteryHeat[s])
}

// burstCost is the heat in W that the same charge, drawn at a gentle current
// over a longer time, would not have made in the battery.
func (w *weigher) burstCost(s int) float64 {
	gentle := gentleShare * w.unit.BatteryLimit
	if i := w.d.Amps[s]; i > gentle {
		return w.d.BatteryHeat[s] * (1 - gentle/i)
	}
	return 0
}
