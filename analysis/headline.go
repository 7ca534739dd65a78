package analysis

import (
	"math"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/ledger"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

const joulesPerWh = 3600

// headline sums the ride up, without intervals, and gives the loss to lugging in
// W second by second.
func (s stages) headline(p *bike.Profile, m physics, plan shifts.Plan) (h Headline, lost []float64) {
	h = Headline{WindingLimitC: p.Thermal.WindingLimit(), Seconds: s.ride.Len(), Ascent: m.road.Ascent()}
	loaded, classed := 0, 0
	for i, moving := range m.road.Moving {
		if !moving {
			continue
		}
		h.MovingSeconds++
		class := m.drive.Class[i]
		if class != drive.Unclassed {
			classed++
		}
		if class.Loaded() {
			loaded++
			if class == drive.Lugging {
				h.LuggingShare++
			}
		}
	}
	h.LuggingShare /= float64(loaded) // NaN without a loaded second
	h.ClassedShare = share(classed, h.MovingSeconds)
	h.Distance = m.road.Distance[len(m.road.Distance)-1]

	value, lost := s.figures(p, m, plan, nil)
	battery := m.drive.Knowledge.Basis()
	derived := battery.Weaker(doubt.Derived)
	legs := doubt.Measured
	if !s.ride.Has(ride.RiderPower) {
		legs = doubt.Modelled
	}
	h.BatteryWh = sure(value[batteryWh], battery)
	h.RiderWh = sure(value[riderWh], legs)
	h.WhPerKm = sure(value[whPerKm], battery)
	h.LuggingLossWh = sure(value[luggingLossWh], derived)
	h.RangeGainKm = sure(value[rangeGainKm], derived)
	h.PlanSavingWh = sure(value[planSavingWh], derived)
	h.WindingPeakC = sure(value[windingPeakC], doubt.Modelled)
	return h, lost
}

// The figures that carry an interval, in the order of figures' result; the
// savings of the moments follow.
const (
	batteryWh = iota
	riderWh
	whPerKm
	luggingLossWh
	rangeGainKm
	planSavingWh
	windingPeakC
	figureCount
)

// figures computes what the headline and the moments say, with gears, plan and
// moments held, NaN where the log cannot tell, and the loss to lugging in W second
// by second.
func (s stages) figures(p *bike.Profile, m physics, plan shifts.Plan, moments []shifts.Moment) (all, lost []float64) {
	all = make([]float64, figureCount, figureCount+len(moments))
	all[batteryWh] = sumWh(m.drive.Terminal)
	all[riderWh] = sumWh(m.drive.Legs)
	km := m.road.Distance[len(m.road.Distance)-1] / 1000
	all[whPerKm] = ratio(all[batteryWh], km)
	all[luggingLossWh], lost = ledger.Lugging(m.drive, m.every, p)
	all[rangeGainKm] = rangeGain(p.Battery.CapacityWh, km, all[batteryWh], all[luggingLossWh])
	all[planSavingWh] = shifts.PlanSaving(m.every, s.gears.Index, plan)
	all[windingPeakC] = peak(m.drive.Winding)
	if knownShare(m.drive.Terminal, m.road.Moving) < leastKnown {
		for _, k := range []int{batteryWh, whPerKm, luggingLossWh, rangeGainKm, planSavingWh, windingPeakC} {
			all[k] = math.NaN()
		}
	}
	return append(all, shifts.Savings(m.every, s.gears.Index, plan, moments)...), lost
}

// leastUse in Wh/km is the battery use below which a ride says nothing of
// range: a motor that hardly helps would go any distance on a full battery.
const leastUse = 2

// rangeGain is how much farther a full battery would go, in km, without the
// loss of this ride; NaN where the battery was hardly used.
func rangeGain(capacityWh, km, usedWh, lostWh float64) float64 {
	left := usedWh - lostWh
	if !(usedWh > leastUse*km) || !(left > 0.05*usedWh) {
		return math.NaN()
	}
	return capacityWh * km * (1/left - 1/usedWh)
}

// sumWh adds up a column of watts, one a second; NaN where it holds none.
func sumWh(watts []float64) float64 {
	joules, known := 0.0, false
	for _, w := range watts {
		if !math.IsNaN(w) {
			joules, known = joules+w, true
		}
	}
	if !known {
		return math.NaN()
	}
	return joules / joulesPerWh
}

func peak(column []float64) float64 {
	top := math.NaN()
	for _, v := range column {
		if v > top || math.IsNaN(top) {
			top = v
		}
	}
	return top
}

// ratio is a/b, NaN where b is no ground to divide by.
func ratio(a, b float64) float64 {
	if !(b > 1e-3) {
		return math.NaN()
	}
	return a / b
}

// knownShare is the share of the moving seconds in which a column is known.
func knownShare(column []float64, moving []bool) float64 {
	told, all := 0, 0
	for i, v := range column {
		if moving[i] {
			all++
			if !math.IsNaN(v) {
				told++
			}
		}
	}
	return share(told, all)
}

func share(part, whole int) float64 {
	if whole == 0 {
		return 0
	}
	return float64(part) / float64(whole)
}

func sure(v float64, basis doubt.Basis) doubt.Figure {
	return doubt.Figure{Value: v, Low: v, High: v, Basis: basis}
}
