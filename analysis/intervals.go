package analysis

import (
	"math"
	"slices"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/ledger"
	"cogledger/analysis/road"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

// windRange is the half-width in m/s of the 90 % range of the mean wind along the
// road of a ride at the rider's height, where nobody measured it: that of a wind
// which blows the same way along the road all the time. Longer rides turn more, and
// their intervals are a little wide.
const windRange = doubt.Z90 * road.WindAlong

// How far a ride's figures may be off for reasons that no number of the profile
// stands for: half-widths of 90 % ranges as fractions. All common practice.
const (
	meterDrift = 0.017 // rider's power: a meter's zero wanders with temperature from ride to ride
	wayDoubt   = 0.008 // distance: pressure and load change a tyre's rollout
	surface    = 0.1   // rolling: how rough the stretches off the usual surface were
	stiffer    = 0.15  // motor drag: cold grease, and the rotor's spin that ends as drag each time the motor lets go
	peaks      = 0.15  // what grows faster than power, told from a road smoothed over seconds, misses its peaks
	unseen     = 0.002 // of the battery's energy: the lugging at starts that power worked out from the road, which lags, does not show
)

// intervals puts 90 % intervals around the headline's figures, the moments'
// savings and the accounts of the books, with gears, plan and moments held.
func (s stages) intervals(p *bike.Profile, res *Result) {
	changes := make([]bool, len(res.Plan.Gear)) // where the plan rides another gear
	for i, g := range res.Plan.Gear {
		changes[i] = g >= 0 && g != s.gears.Index[i]
	}
	all := func(m physics, p *bike.Profile) []float64 {
		figures, _ := s.figures(p, m, res.Plan, res.Moments)
		return append(figures, res.Books.Lines(ledger.Close(m.drive, m.road))...)
	}
	under := func(p *bike.Profile, o road.Options) []float64 {
		return all(s.under(p, o, &s.scratch.varied, changes), p)
	}
	best := under(p, road.Options{})
	// What only the road rests on changes its side of the books and no more.
	onRoad := func(p *bike.Profile, o road.Options) []float64 {
		figures := slices.Clone(best[:figureCount+len(res.Moments)])
		return append(figures, res.Books.Lines(ledger.Close(res.Drive, s.roadUnder(p, o, &s.scratch.varied)))...)
	}
	windy := onRoad
	if res.Drive.Knowledge == drive.FromRoad {
		windy = under
	}
	sources := []doubt.Source{{
		Name: "wind",
		Up:   func() []float64 { return windy(p, road.Options{HeadWind: windRange}) },
		Down: func() []float64 { return windy(p, road.Options{HeadWind: -windRange}) },
	}}
	sources = append(sources, doubt.Source{
		Name: "surface",
		Up:   func() []float64 { return windy(p.Scaled("road.crr", 1+surface), road.Options{}) },
		Down: func() []float64 { return windy(p.Scaled("road.crr", 1-surface), road.Options{}) },
	})
	sources = append(sources, doubt.Source{
		Name: "grease",
		Up: func() []float64 {
			return under(p.Scaled("motor.coulomb_torque_nm", 1+stiffer).Scaled("motor.viscous_nm_per_rad_s", 1+stiffer), road.Options{})
		},
		Down: func() []float64 { return best },
	})
	for _, t := range p.Tolerances() {
		with := under
		if !res.Drive.RestsOn(t.Key) {
			if with = onRoad; !road.RestsOn(t.Key) {
				continue
			}
		}
		sources = append(sources, doubt.FromTolerances(p, []bike.Tolerance{t}, func(p *bike.Profile) []float64 {
			return with(p, road.Options{})
		})...)
	}
	found := doubt.Around(best, sources)

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
	if s.ride.Has(ride.RiderPower) {
		h.RiderWh = h.RiderWh.Widened(meterDrift * h.RiderWh.Value)
	}
	h.WhPerKm = h.WhPerKm.Widened(wayDoubt * h.WhPerKm.Value)
	h.LuggingLossWh = h.LuggingLossWh.Widened(ledger.EdgeDoubt(res.LuggingLossW))
	if res.Drive.Knowledge == drive.FromRoad {
		h.LuggingLossWh = h.LuggingLossWh.Raised(unseen * h.BatteryWh.Value).Raised(3 * peaks * h.LuggingLossWh.Value)
		h.RangeGainKm = h.RangeGainKm.Raised(3 * peaks * h.RangeGainKm.Value)
		h.WindingPeakC = h.WindingPeakC.Raised(peaks * (h.WindingPeakC.Value - res.Drive.Winding[0]))
	}
	h.RangeGainKm = h.RangeGainKm.Widened(h.RangeGainKm.Value * capacityDoubt(p)) // in proportion to the capacity
	h.LuggingLossWh.Low = max(0, h.LuggingLossWh.Low)                             // a loss by its definition
	h.RangeGainKm.Low = max(0, h.RangeGainKm.Low)
	if res.Drive.Knowledge != drive.FromBattery { // no energy that was worked out from what the motor gave is below nothing
		h.BatteryWh.Low, h.WhPerKm.Low = max(0, h.BatteryWh.Low), max(0, h.WhPerKm.Low)
	}
	res.Plan.Saving.Low, res.Plan.Saving.High = h.PlanSavingWh.Low, h.PlanSavingWh.High
	for i := range res.Moments {
		f := found[figureCount+i]
		res.Moments[i].Saving.Low, res.Moments[i].Saving.High = f.Low, f.High
	}
	s.accountIntervals(p, res, found[figureCount+len(res.Moments):])
	shifts.Advise(res.Moments, p, h.MovingSeconds)
}

// accountIntervals takes over the intervals of the books' lines, with what the
// sources leave out.
func (s stages) accountIntervals(p *bike.Profile, res *Result, lines []doubt.Figure) {
	fromRoad := res.Drive.Knowledge == drive.FromRoad
	net := res.Road.HeightDoubt() * road.Gravity(math.NaN(), 0) * p.Mass.Total() / joulesPerWh
	res.Books.Each(func(i int, a *ledger.Account) {
		f := lines[i]
		switch {
		case a.Name == ledger.FromLegs && s.ride.Has(ride.RiderPower):
			f = f.Widened(meterDrift * f.Value)
		case a.Name == ledger.Copper && fromRoad:
			f = f.Raised(peaks * f.Value)
		case a.Name == ledger.LegsChain && fromRoad:
			f = f.Lowered(peaks * f.Value) // a motor told too weak leaves the legs too much of the slack span's drag
		case a.Name == ledger.Brakes:
			f = f.Raised(peaks * f.Value)
		case a.Name == ledger.Climbing:
			f = f.Widened(net)
		}
		switch a.Name {
		case ledger.Delivered, ledger.Climbing, ledger.Speed, ledger.Unexplained: // may be of either sign
		default:
			f.Low = max(0, f.Low)
		}
		a.Low, a.High = f.Low, f.High
	})
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
