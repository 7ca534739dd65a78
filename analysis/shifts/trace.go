package shifts

import (
	"errors"
	"math"
)

// trace reads the best path off the tables, from its end to its beginning.
func (b *Planner) trace(p *Problem, price float64) (Path, error) {
	path := Path{Gear: make([]int, p.Seconds), Price: price}
	gear, start, cost := b.end(p)
	if math.IsInf(cost, 1) {
		return Path{}, errors.New("shifts: no gear can hold the ride: every path meets a second without an open gear")
	}
	path.Cost = cost
	fill := func(from, to, g int) {
		for u := from; u < to; u++ {
			path.Gear[u] = g
		}
	}
	s := p.Seconds // seconds from s on are filled; before them the path is free in gear
	for start > 0 {
		fill(start, s, gear)
		s, gear = start, b.source(p, start, gear)
		if run := b.run[s]; run > 0 && b.viaRun[s] && path.Gear[s] == p.Ridden[s] && b.tookOwn(p, s, path.Gear[s]) {
			start = run
			continue
		}
		start = b.began(p, s-1, gear)
	}
	fill(0, s, gear)
	path.Shifts = p.Changes(path.Gear)
	return path, nil
}

// end is the gear, the start and the total cost of the best last run. The last
// run may be shorter than the least dwell: the ride ends in it.
func (b *Planner) end(p *Problem) (gear, start int, cost float64) {
	cost = math.Inf(1)
	for g, v := range b.free {
		if v < cost {
			gear, cost = g, v
		}
	}
	start = b.began(p, p.Seconds-1, gear)
	for g := range p.Gears {
		tail := 0.0
		for t := p.Seconds - 1; t >= max(1, p.Seconds-p.dwell()+1); t-- {
			tail += float64(p.Cost[t*p.Gears+g])
			if v := b.entry(p, t, g) + tail; v < cost {
				gear, start, cost = g, t, v
			}
		}
	}
	return gear, start, cost
}

// began is the second in which the best free path in gear g at second s shifted
// into it; 0 when it held that gear from the beginning.
func (b *Planner) began(p *Problem, s, g int) int {
	for ; s > 0; s-- {
		if b.entered[s*p.Gears+g] {
			return s - p.dwell() + 1
		}
	}
	return 0
}

// tookOwn reports whether the cheapest entry into gear g at second t is the
// rider's own shift.
func (b *Planner) tookOwn(p *Problem, t, g int) bool {
	return p.Ridden != nil && g == p.Ridden[t] && b.ownBest[t]
}

// source is the gear that the cheapest shift into gear g at second t leaves.
func (b *Planner) source(p *Problem, t, g int) int {
	if b.tookOwn(p, t, g) {
		return p.Ridden[t-1]
	}
	return int(b.from[t*p.Gears+g])
}
