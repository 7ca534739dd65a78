package made

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"cogledger/analysis/bike"
)

const (
	shiftS     = 0.45 // s for a shift to the next cog, without power
	perCogS    = 0.2  // more for each further cog
	dwellS     = 2.5  // least time between shifts
	lateShiftS = 24.0 // delay of a planted late shift
)

// shift carries a shift under way, or decides on a new one.
func (b *brain) shift(s *sim, c *cell) {
	if c.late != b.onLate {
		b.onLate, b.lateUsed = c.late, false
	}
	if b.shiftLeft > 0 {
		before := b.shiftLeft
		b.shiftLeft -= stepS
		if before > b.shiftAll/2 && b.shiftLeft <= b.shiftAll/2 {
			b.engage(s)
		}
		if b.shiftLeft <= 0 {
			b.lastAt = s.t
		}
		return
	}
	if b.tallStart > 0 && s.rpm(b.rung) > 55 {
		s.truth.close(b.tallStart, s.clock(), s.gear())
		b.tallStart = 0
	}
	if s.t-b.lastAt < dwellS {
		return
	}
	if s.legs.state == pushing && s.legs.target > 22 {
		b.shiftPushing(s, c)
	} else {
		b.noteLate(s, b.rung)
		b.highFor = 0
		b.shiftRolling(s)
	}
}

// shiftPushing keeps the cadence between the rider's bounds while pedalling.
func (b *brain) shiftPushing(s *sim, c *cell) {
	r := &s.rider
	low, high := r.LowRPM, r.HighRPM
	load := min(s.now.motorWheel/400, 1)
	low, high = low+r.LoadRPM*load, high+r.LoadRPM*load
	if r.OneGear {
		low, high = 26, 112
	}
	if c.drill != nil {
		low, high = c.drill.RPM*(1-drillSlack), c.drill.RPM*(1+drillSlack)
	}
	rpm := s.rpm(b.rung)
	if r.AheadM > 0 && c.drill == nil && s.v > 3 {
		if ahead := s.course.at(s.x + r.AheadM); ahead.slope > c.slope+0.02 && ahead.slope > 0.035 && !b.planted(c) && !b.planted(ahead) {
			low += 5
		}
	}
	slow := rpm < low || b.lateNow && rpm < low+8 // a late rider does not notice that the legs recover a little
	if slow && b.rung > 0 && b.started {
		if b.lowFor == 0 {
			b.delay = r.DelayS * (0.7 + 0.6*s.mood.Float64())
			if b.planted(c) {
				b.delay, b.lateNow = lateShiftS*(0.8+0.4*s.mood.Float64()), true
			}
			b.lowFrom = s.clock()
		}
		b.lowFor += stepS
	} else if b.lowFor > 0 {
		b.noteLate(s, b.rung) // the ground eased before the shift came
	}
	if rpm > high && b.rung < len(s.ladder)-1 {
		b.highFor += stepS
	} else {
		b.highFor = 0
	}
	switch {
	case b.lowFor > b.delay && b.lowFor > 0:
		to := b.rung - 1
		for to > 0 && b.rung-to < r.Cogs && s.rpm(to) < low+3 {
			to--
		}
		if b.lateNow {
			b.lateUsed = true
			b.lateLeft--
		}
		b.noteLate(s, to)
		b.begin(s, to)
	case b.highFor > 0.8:
		b.begin(s, b.rung+1)
		b.highFor = 0
	}
}

// lateS is the time below the rider's lowest cadence from which a down-shift
// counts as late.
const lateS = 4.0

// noteLate ends a spell of low cadence, by a shift or without one.
func (b *brain) noteLate(s *sim, to int) {
	if b.lowFor >= lateS {
		s.truth.close(s.truth.plant(LateDownShift, b.lowFrom, s.gear()), s.clock(), s.ladder[to])
	}
	b.lowFor, b.lateNow = 0, false
}

// planted reports whether a late shift is to be planted on this leg.
func (b *brain) planted(c *cell) bool { return c.late && !b.lateUsed && b.lateLeft > 0 }

// shiftRolling shifts without load on the way to a stop or down a hill.
func (b *brain) shiftRolling(s *sim) {
	r := &s.rider
	if r.StartM == 0 || r.OneGear || s.v < 1.5 {
		return
	}
	start := s.rungFor(r.StartM)
	switch rpm := s.rpm(b.rung); {
	case b.braking > 0 && s.v < 4.5 && b.rung > start && rpm < r.HighRPM:
		b.begin(s, max(start, b.rung-3))
	case rpm < r.LowRPM-6 && b.rung > start:
		b.begin(s, b.rung-1)
	case rpm > r.HighRPM+14 && b.rung < len(s.ladder)-1:
		b.begin(s, b.rung+1)
	}
}

func (b *brain) begin(s *sim, to int) {
	b.next = to
	cogs := max(to-b.rung, b.rung-to)
	b.shiftAll = shiftS + perCogS*float64(cogs-1)
	b.shiftLeft = b.shiftAll
	b.loaded = s.legs.state == pushing && s.mood.Float64() < s.rider.LoadedShifts
	if s.legs.state != pushing {
		s.legs.state, s.legs.loose = slack, 0.7
		b.softUntil = s.t + b.shiftAll
	}
	if b.loaded && s.now.motorWheel > 60 {
		s.truth.close(s.truth.plant(LoadedShift, s.clock(), s.gear()), s.clock()+1, s.ladder[to])
	}
}

func (b *brain) engage(s *sim) {
	s.truth.Shifts = append(s.truth.Shifts, Shift{At: s.t, From: s.gear(), To: s.ladder[b.next]})
	b.rung = b.next
}

// ladder puts the gears in the order in which a rider goes up through them. Of
// two rings each serves its own half: the change of ring comes in the middle of
// the ratios that both have, together with the cogs that make it a small step.
func ladder(gears []bike.Gear) []int {
	byRing := map[int][]int{}
	for i, g := range gears {
		byRing[g.Front] = append(byRing[g.Front], i)
	}
	rings := slices.Sorted(maps.Keys(byRing))
	var rungs []int
	for k, front := range rings {
		own := slices.Clone(byRing[front])
		slices.SortStableFunc(own, func(a, b int) int { return cmp.Compare(gears[a].Ratio, gears[b].Ratio) })
		if k > 0 {
			low, high := gears[own[0]].Ratio, gears[rungs[len(rungs)-1]].Ratio
			change := math.Sqrt(low * high)
			rungs = slices.DeleteFunc(rungs, func(g int) bool { return gears[g].Ratio > change })
			own = slices.DeleteFunc(own, func(g int) bool { return gears[g].Ratio <= change })
		}
		rungs = append(rungs, own...)
	}
	return rungs
}
