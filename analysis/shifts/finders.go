package shifts

import (
	"math"

	"cogledger/analysis/drive"
	"cogledger/ingest/ride"
)

// When something counts as a habit; common practice unless a source is named.
const (
	tallBy       = 1.2  // a start this much taller than the plan's is in a tall gear
	lateS        = 5.0  // s after leaving the band, a down-shift is late
	steadyS      = 3    // of five seconds must agree before a class counts
	windowS      = 5    // those five
	climbGrade   = 0.02 // rise over run
	climbS       = 8    // s
	blockS       = 180  // s of riding in one gear while the plan shifts
	spinS        = 3    // s
	steepGrade   = 0.06 // rise over run
	steepS       = 10   // s
	fullShare    = 0.9  // of a current limit counts as full
	burstShare   = 0.8  // of the battery current limit is a burst
	burstS       = 3    // s
	gentleShare  = 0.6  // of the battery current limit is gentle
	gentlerPower = 0.75 // of full assist, what the advice compares with
	loadedNm     = 35   // at the chainring; more than this through a shift is under load
	easedShare   = 0.75 // of the torque around a shift; less is easing off
)

func (w *weigher) loaded(s int) bool { return w.d.Class[s].Loaded() }

// tallStarts: starts in a clearly taller gear than the plan takes.
func (w *weigher) tallStarts(starts []Start) Habit {
	h := Habit{Kind: TallStart}
	all := w.p.Gears()
	for _, x := range starts {
		var ridden, planned mean
		for s := x.From; s < x.To; s++ {
			if w.plan.Gear[s] >= 0 && w.loaded(s) {
				ridden.add(math.Log(all[w.inf.Index[s]].Ratio))
				planned.add(math.Log(all[w.plan.Gear[s]].Ratio))
			}
		}
		if ridden.n < 2 {
			continue
		}
		h.Opportunities++
		if ridden.value()-planned.value() > math.Log(tallBy) {
			h.note(x.From, x.To)
		}
	}
	h.Measurable = h.Opportunities > 0
	return h
}

// lateDownShifts: the motor falls out of its band in the middle of a ride, the
// plan shifts down, and the rider does so late or never. A rider who shifts in
// time does not fall out of the band at all, so lateness is counted against the
// climbs met, which do not depend on the rider.
func (w *weigher) lateDownShifts(starts []Start) Habit {
	h := Habit{Kind: LateDownShift}
	all := w.p.Gears()
	quiet := w.outsideStarts(starts)
	for s := 1; s < w.r.Len(); s++ {
		if w.d.Class[s] != drive.Lugging || w.plan.Gear[s] < 0 || !quiet[s] || !w.leavesBand(s) {
			continue
		}
		gear, end, shifted := w.inf.Index[s], s, false
		planned := false
		for last := s; end < w.r.Len() && end-last <= windowS && quiet[end]; end++ {
			g := w.inf.Index[end]
			if g >= 0 && all[g].Ratio < all[gear].Ratio {
				shifted = true
				break
			}
			if w.d.Class[end] == drive.Lugging {
				last = end
			}
			planned = planned || w.plan.Gear[end] >= 0 && all[w.plan.Gear[end]].Ratio < all[gear].Ratio
		}
		if planned {
			delay := float64(end - s)
			h.Delays = append(h.Delays, delay)
			if delay > lateS || !shifted {
				h.note(s, end)
			}
		}
		s = end
	}
	w.runs(func(s int) bool { return w.rd.Grade[s] >= climbGrade && quiet[s] }, climbS, func(int, int) { h.Opportunities++ })
	h.Opportunities = max(h.Opportunities, h.Count) // a head wind can slow the legs as well
	h.Measurable = w.loadedSeconds() >= blockS
	return h
}

// leavesBand reports whether the motor was in its band or faster just before
// second s, in the same gear, and lugs just after.
func (w *weigher) leavesBand(s int) bool {
	before, after := 0, 0
	for u := max(0, s-windowS); u < s; u++ {
		if (w.d.Class[u] == drive.InBand || w.d.Class[u] == drive.SpinningOut || w.d.Class[u] == drive.Resting) && w.inf.Index[u] == w.inf.Index[s] {
			before++
		}
	}
	for u := s; u < min(w.r.Len(), s+windowS); u++ {
		if w.d.Class[u] == drive.Lugging {
			after++
		}
	}
	return before >= steadyS && after >= steadyS
}

func (w *weigher) outsideStarts(starts []Start) []bool {
	quiet := make([]bool, w.r.Len())
	for s := range quiet {
		quiet[s] = w.rd.Moving[s] && !w.r.Paused(s)
	}
	for _, x := range starts {
		for s := x.From; s < x.To; s++ {
			quiet[s] = false
		}
	}
	return quiet
}

// oneGear: blocks of three minutes under load without a shift, in which the
// plan shifts at least twice.
func (w *weigher) oneGear() Habit {
	h := Habit{Kind: OneGear}
	from, ridden, planned, loaded := 0, 0, 0, 0
	lastRidden, lastPlanned := -1, -1
	for s := range w.r.Len() {
		if w.plan.Gear[s] < 0 || !w.loaded(s) {
			continue
		}
		if loaded == 0 {
			from = s
		}
		loaded++
		if g := w.inf.Index[s]; g != lastRidden {
			ridden, lastRidden = ridden+min(1, loaded-1), g
		}
		if g := w.plan.Gear[s]; g != lastPlanned {
			planned, lastPlanned = planned+min(1, loaded-1), g
		}
		if loaded == blockS {
			if planned >= 2 {
				h.Opportunities++
				if ridden == 0 {
					h.note(from, s+1)
				}
			}
			ridden, planned, loaded = 0, 0, 0
		}
	}
	h.Measurable = h.Opportunities > 0
	return h
}

// spinningOut: the motor runs past its band or out of voltage while the plan
// has a taller gear.
func (w *weigher) spinningOut() Habit {
	h := Habit{Kind: SpinningOut}
	all := w.p.Gears()
	w.runs(func(s int) bool { return w.d.Class[s] == drive.SpinningOut }, spinS, func(from, to int) {
		for s := from; s < to; s++ {
			if w.plan.Gear[s] >= 0 && all[w.plan.Gear[s]].Ratio > all[w.inf.Index[s]].Ratio {
				h.note(from, to)
				break
			}
		}
	})
	h.Measurable = w.loadedSeconds() >= blockS
	return h
}

func (w *weigher) loadedSeconds() (seconds int) {
	for s := range w.r.Len() {
		if w.loaded(s) {
			seconds++
		}
	}
	return seconds
}

// fullAssist: the highest assist level of the ride, or where no levels are
// logged a current at its limit, drags a lugging motor up a steep stretch. In a
// gear that keeps the motor in its band full assist does no harm.
func (w *weigher) fullAssist() Habit {
	h := Habit{Kind: FullAssist}
	level, top, levels := w.r.Column(ride.AssistLevel), 0.0, false
	for _, l := range level {
		if l > 0 && top > 0 && l != top {
			levels = true
		}
		if l > top {
			top = l
		}
	}
	full := func(s int) bool {
		if levels {
			return level[s] == top
		}
		return w.d.Amps[s] >= fullShare*w.unit.BatteryLimit || w.d.MotorAmps[s] >= fullShare*w.unit.PhaseLimit
	}
	w.runs(func(s int) bool { return w.rd.Grade[s] >= steepGrade && w.loaded(s) }, steepS, func(from, to int) {
		h.Opportunities++
		n, lugging := 0, 0
		for s := from; s < to; s++ {
			if full(s) {
				n++
			}
			if w.d.Class[s] == drive.Lugging {
				lugging++
			}
		}
		if 2*n > to-from && 2*lugging > to-from {
			h.note(from, to)
		}
	})
	h.Measurable = levels || w.d.Knowledge != drive.FromRoad
	return h
}

// hardBursts: battery current near its limit for some seconds.
func (w *weigher) hardBursts() Habit {
	h := Habit{Kind: HardBursts}
	w.runs(func(s int) bool { return w.d.Amps[s] >= burstShare*w.unit.BatteryLimit }, burstS, func(from, to int) {
		h.note(from, to)
	})
	h.Measurable = w.d.Knowledge == drive.FromBattery
	return h
}

// shiftsUnderLoad: torque through the chain never eased off around the shift.
// Easing off lasts half a second; in means over a second it still shows as a dip.
// A motor known from the road alone shows none: its power is what some seconds
// asked.
func (w *weigher) shiftsUnderLoad() Habit {
	h := Habit{Kind: ShiftUnderLoad}
	if !w.unit.Hub() && w.d.Knowledge == drive.FromRoad {
		return h
	}
	last, lastAt := -1, -1
	for s, g := range w.inf.Index {
		if g < 0 {
			continue
		}
		if last >= 0 && g != last && s-lastAt <= 2 {
			// Where the usual torque is less, a shift without easing off would not
			// be under load either: no opportunity, or flat rides would look tidier.
			if least, usual, known := w.torqueAround(s); known && easedShare*usual > loadedNm {
				h.Opportunities++
				if least > easedShare*usual {
					h.note(s, s+1)
				}
			}
		}
		last, lastAt = g, s
	}
	h.Measurable = h.Opportunities > 0
	return h
}

// torqueAround is the least torque at the chainring within the seconds that a
// shift at s may have happened in, and the mean of those before and after.
func (w *weigher) torqueAround(s int) (least, usual float64, known bool) {
	least = math.Inf(1)
	var around mean
	seen := 0
	for u := max(0, s-6); u <= min(s+5, w.r.Len()-1); u++ {
		torque := w.chainringTorque(u)
		if math.IsNaN(torque) {
			continue
		}
		if u < s-2 || u > s+1 {
			around.add(torque)
			continue
		}
		least = min(least, torque)
		seen++
	}
	return least, around.value(), seen >= 3 && around.n >= 4
}

// chainringTorque in Nm: legs, and in a mid drive the motor, at the speed of
// the crank in the gear in use; NaN where unknown.
func (w *weigher) chainringTorque(s int) float64 {
	g := w.inf.Index[s]
	if g < 0 {
		return nan
	}
	power := max(0, w.d.Legs[s])
	if !w.unit.Hub() {
		power += max(0, w.d.Shaft[s]*w.unit.Reduction)
	}
	turning := w.m.CadenceRPM(s, g) / rpmPerRadS
	if !(turning > 0) {
		return nan
	}
	return power / turning
}

func (h *Habit) note(from, to int) {
	h.Count++
	h.Seconds, h.Ends = append(h.Seconds, from), append(h.Ends, to)
}

// runs calls found for every unbroken run of seconds that is at least so long.
func (w *weigher) runs(is func(s int) bool, least int, found func(from, to int)) {
	from := -1
	for s := 0; s <= w.r.Len(); s++ {
		if s < w.r.Len() && is(s) {
			if from < 0 {
				from = s
			}
			continue
		}
		if from >= 0 && s-from >= least {
			found(from, s)
		}
		from = -1
	}
}
