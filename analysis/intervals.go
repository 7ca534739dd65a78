package analysis

import (
	"slices"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/road"
	"cogledger/analysis/shifts"
)

// windRange is the half-width in m/s of the 90 % range of the mean wind along the
// road of a ride at the rider's height, where nobody measured it. With it the
// intervals of made rides of some minutes in winds of 1 to 4 m/s from anywhere
// hold the truth as often as they say; longer rides turn more, and their
// intervals are a little wide.
const windRange = 3.0

// intervals puts 90 % intervals around the headline's figures and the moments'
// savings, with gears, plan and moments held.
func (s stages) intervals(p *bike.Profile, res *Result) {
	changes := make([]bool, len(res.Plan.Gear)) // where the plan rides another gear
	for i, g := range res.Plan.Gear {
		changes[i] = g >= 0 && g != s.gears.Index[i]
	}
	under := func(p *bike.Profile, o road.Options) []float64 {
		figures, _ := s.figures(p, s.under(p, o, &s.scratch.varied, changes), res.Plan, res.Moments)
		return figures
	}
	var unmeasured []doubt.Source
	if res.Drive.Knowledge == drive.FromRoad {
		unmeasured = append(unmeasured, doubt.Source{
			Name: "wind",
			Up:   func() []float64 { return under(p, road.Options{HeadWind: windRange}) },
			Down: func() []float64 { return under(p, road.Options{HeadWind: -windRange}) },
		})
	}
	matter := slices.DeleteFunc(p.Tolerances(), func(t bike.Tolerance) bool { return !res.Drive.RestsOn(t.Key) })
	found := doubt.Interval(p, matter, func(p *bike.Profile) []float64 {
		return under(p, road.Options{})
	}, unmeasured...)

	h := &res.Headline
	for k, at := range map[int]*doubt.Figure{
		batteryWh: &h.BatteryWh, riderWh: &h.RiderWh, whPerKm: &h.WhPerKm, luggingLossWh: &h.LuggingLossWh,
		rangeGainKm: &h.RangeGainKm, planSavingWh: &h.PlanSavingWh, windingPeakC: &h.WindingPeakC,
	} {
		at.Low, at.High = found[k].Low, found[k].High
	}
	noise := res.Drive.ReadingNoise(s.ride)
	h.BatteryWh = h.BatteryWh.Widened(noise)
	if h.Distance > 0 {
		h.WhPerKm = h.WhPerKm.Widened(noise / h.Distance * 1000)
	}
	h.RangeGainKm = h.RangeGainKm.Widened(h.RangeGainKm.Value * capacityDoubt(p)) // in proportion to the capacity
	h.LuggingLossWh.Low = max(0, h.LuggingLossWh.Low)                             // a loss by its definition
	h.RangeGainKm.Low = max(0, h.RangeGainKm.Low)
	res.Plan.Saving.Low, res.Plan.Saving.High = h.PlanSavingWh.Low, h.PlanSavingWh.High
	for i := range res.Moments {
		f := found[figureCount+i]
		res.Moments[i].Saving.Low, res.Moments[i].Saving.High = f.Low, f.High
	}
	shifts.Advise(res.Moments, p, h.MovingSeconds)
}

// capacityDoubt is the tolerance of the battery's capacity.
func capacityDoubt(p *bike.Profile) float64 {
	for _, t := range p.Tolerances() {
		if t.Key == "battery.capacity_wh" {
			return t.Fraction
		}
	}
	return 0
}
