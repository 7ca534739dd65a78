package shifts

import "math"

// forward fills the planner's tables from the first second to the last.
func (b *Planner) forward(p *Problem, price float64) {
	n, slots := p.Gears, p.dwell()+1
	for g := range b.free {
		b.free[g], b.sums[g], b.lastBad[g], b.entered[g] = 0, 0, -1, false
	}
	b.spend(p, 0, b.sums[:n], b.sums[:n])
	before, now := 0, 1 // slots of the running sums
	for s := 1; s < p.Seconds; s++ {
		oldest := now + 1
		if oldest == slots {
			oldest = 0
		}
		b.cheapestShift(p, s, price*p.weight(s, false))
		b.ridersShift(p, s, price)
		sums := b.sums[now*n:][:n]
		b.spend(p, s, b.sums[before*n:][:n], sums)
		b.finishDwell(p, s, sums, b.sums[oldest*n:][:n])
		before, now = now, oldest
	}
}

// spend adds the cost of second s to the paths that stay in their gear, and to
// the running sums.
func (b *Planner) spend(p *Problem, s int, before, sums []float64) {
	row := p.Cost[s*p.Gears:][:len(sums)]
	free, before := b.free[:len(row)], before[:len(row)]
	for g, c := range row {
		v := float64(c)
		free[g] += v
		if v > math.MaxFloat64 {
			b.lastBad[g], v = s, 0
		}
		sums[g] = before[g] + v
	}
}

// enteredAt is the row of into that belongs to second t.
func (b *Planner) enteredAt(p *Problem, t int) []float64 {
	return b.into[t%(p.dwell()+1)*p.Gears:][:p.Gears]
}

// cheapestShift finds, for each gear, the least cost of shifting into it at
// second s.
func (b *Planner) cheapestShift(p *Problem, s int, price float64) {
	into, from := b.enteredAt(p, s), b.from[s*p.Gears:][:p.Gears]
	reach := p.cogs()
	if p.Reach != nil {
		reach = min(reach, int(p.Reach[s]))
	}
	b.shut[s] = !(price <= math.MaxFloat64) // nobody can shift here, at whatever price
	if b.shut[s] {
		for g := range into {
			into[g] = math.Inf(1)
		}
		return
	}
	cogs := p.cogs()
	for low := 0; low < p.Gears; low += cogs {
		free, into, from := b.free[low:low+cogs], into[low:low+cogs], from[low:low+cogs]
		if p.PerCog {
			sweep(free, into, from, reach, price)
		} else {
			nearest(free, into, from, reach, price)
		}
		for k := range from {
			from[k] += uint8(low)
		}
	}
	if p.rings() > 1 {
		b.acrossRings(p, into, from, price)
	}
}

// sweep finds the least cost of coming to each cog from another no further than
// reach, at a price a cog. A source that falls out of reach is sought anew.
func sweep(free, into []float64, from []uint8, reach int, price float64) {
	at, least := -1, math.Inf(1)
	for k := range into {
		if at >= 0 && k-at > reach {
			at, least = -1, math.Inf(1)
			for f := max(0, k-reach); f < k; f++ {
				if v := free[f] + price*float64(k-f); v < least {
					at, least = f, v
				}
			}
		}
		into[k], from[k] = least, uint8(max(0, at))
		if free[k] < least {
			at, least = k, free[k]
		}
		least += price
	}
	at, least = -1, math.Inf(1)
	for k := len(into) - 1; k >= 0; k-- {
		if at >= 0 && at-k > reach {
			at, least = -1, math.Inf(1)
			for f := min(len(into)-1, k+reach); f > k; f-- {
				if v := free[f] + price*float64(f-k); v < least {
					at, least = f, v
				}
			}
		}
		if least < into[k] {
			into[k], from[k] = least, uint8(at)
		}
		if free[k] < least {
			at, least = k, free[k]
		}
		least += price
	}
}

// nearest is sweep where a shift has one price however far it goes. Leaving a
// gear for itself is not kept out: it costs a price and gains nothing over
// staying, so it never wins.
func nearest(free, into []float64, from []uint8, reach int, price float64) {
	at := 0
	for k := range into {
		if reach < len(free) || k == 0 {
			at = max(0, k-reach)
			for f := at; f <= min(len(free)-1, k+reach); f++ {
				if free[f] < free[at] {
					at = f
				}
			}
		}
		into[k], from[k] = free[at]+price, uint8(at)
	}
}

// acrossRings adds the shifts that change the ring.
func (b *Planner) acrossRings(p *Problem, into []float64, from []uint8, price float64) {
	cogs, factor := p.cogs(), p.ringFactor()
	for g, v := range b.free { // what it takes to come to the cog, without the ring
		b.across[g], b.leaving[g] = into[g], from[g]
		if !p.PerCog {
			b.across[g] -= price
		}
		if v <= b.across[g] {
			b.across[g], b.leaving[g] = v, uint8(g)
		}
	}
	for g := range into {
		for f := g % cogs; f < p.Gears; f += cogs {
			if f == g {
				continue
			}
			if v := b.across[f] + price*factor; v < into[g] {
				into[g], from[g] = v, b.leaving[f]
			}
		}
	}
}

// ridersShift finds the least cost of shifting at second s exactly as the rider
// did there.
func (b *Planner) ridersShift(p *Problem, s int, price float64) {
	if p.Ridden == nil || p.Ridden[s] == p.Ridden[s-1] {
		return
	}
	left := p.Ridden[s-1]
	cost := b.free[left]
	if start := b.run[s]; start > 0 {
		inRun := b.entry(p, start, left)
		for u := start; u < s; u++ {
			inRun += float64(p.Cost[u*p.Gears+left])
		}
		if inRun < cost {
			cost, b.viaRun[s] = inRun, true
		}
	}
	b.own[s] = cost + price*p.weight(s, true)*p.between(left, p.Ridden[s])
	b.ownBest[s] = b.own[s] < b.enteredAt(p, s)[p.Ridden[s]]
}

// entry is the least cost before second t, one of the last LeastDwell, of having
// shifted into gear g there.
func (b *Planner) entry(p *Problem, t, g int) float64 {
	v := b.enteredAt(p, t)[g]
	if p.Ridden != nil && g == p.Ridden[t] {
		return min(v, b.own[t])
	}
	return v
}

// finishDwell frees the runs that reach their least dwell in second s, where
// they beat the paths that were free before. old are the running sums before
// those runs.
func (b *Planner) finishDwell(p *Problem, s int, sums, old []float64) {
	free := b.free
	entered := b.entered[s*len(free):][:len(free)]
	t := s - p.dwell() + 1
	if t < 1 || b.shut[t] {
		clear(entered)
	} else {
		sums, old, lastBad := sums[:len(free)], old[:len(free)], b.lastBad[:len(free)]
		into := b.enteredAt(p, t)[:len(free)]
		for g, stay := range free {
			run := into[g] + (sums[g] - old[g])
			better := run < stay && lastBad[g] < t
			entered[g] = better
			if better {
				free[g] = run
			}
		}
	}
	if t >= 1 && p.Ridden != nil && b.own[t] <= math.MaxFloat64 {
		g := p.Ridden[t]
		if run := b.own[t] + (sums[g] - old[g]); run < free[g] && b.lastBad[g] < t {
			free[g], entered[g] = run, true
		}
	}
}
