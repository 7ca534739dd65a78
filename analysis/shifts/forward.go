package shifts

import "math"

// forward fills the planner's tables from the first second to the last.
func (b *Planner) forward(p *Problem, rings int, price float64) {
	n, slots, ringFactor := p.Gears, p.dwell()+1, p.ringFactor()
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
		b.cheapestShift(s, rings, price*p.weight(s, false), ringFactor)
		b.ridersShift(p, s, rings, price)
		sums := b.sums[now*n:][:n]
		b.spend(p, s, b.sums[before*n:][:n], sums)
		b.finishDwell(p, s, rings, sums, b.sums[oldest*n:][:n])
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

// cheapestShift finds, for each ring, the least cost of shifting into it at
// second s. Leaving a gear for itself is not kept out: it costs a price and
// gains nothing over staying, so it never wins.
func (b *Planner) cheapestShift(s, rings int, price, ringFactor float64) {
	into, from := b.into[s*rings:][:rings], b.from[s*rings:][:rings]
	for r := range into {
		into[r], from[r] = math.Inf(1), 0
	}
	if math.IsInf(price, 1) || math.IsNaN(price) { // nobody can shift here, at whatever price
		return
	}
	for g, v := range b.free {
		if r := b.ring[g]; v < into[r] {
			into[r], from[r] = v, uint8(g)
		}
	}
	best := 0
	for r, v := range into {
		if v < into[best] {
			best = r
		}
	}
	least, leastFrom := into[best], from[best]
	for r := range into {
		into[r] += price
		if other := least + price*ringFactor; other < into[r] {
			into[r], from[r] = other, leastFrom
		}
	}
}

// ridersShift finds the least cost of shifting at second s exactly as the rider
// did there.
func (b *Planner) ridersShift(p *Problem, s, rings int, price float64) {
	if p.Ridden == nil || p.Ridden[s] == p.Ridden[s-1] {
		return
	}
	left := p.Ridden[s-1]
	cost := b.free[left]
	if start := b.run[s]; start > 0 {
		inRun := b.entry(p, rings, start, left)
		for u := start; u < s; u++ {
			inRun += float64(p.Cost[u*p.Gears+left])
		}
		if inRun < cost {
			cost, b.viaRun[s] = inRun, true
		}
	}
	b.own[s] = cost + price*p.weight(s, true)*p.between(left, p.Ridden[s])
}

// entry is the least cost before second t of having shifted into gear g there.
func (b *Planner) entry(p *Problem, rings, t, g int) float64 {
	v := b.into[t*rings+b.ring[g]]
	if p.Ridden != nil && g == p.Ridden[t] {
		return min(v, b.own[t])
	}
	return v
}

// finishDwell frees the runs that reach their least dwell in second s, where
// they beat the paths that were free before. old are the running sums before
// those runs.
func (b *Planner) finishDwell(p *Problem, s, rings int, sums, old []float64) {
	free := b.free
	entered := b.entered[s*len(free):][:len(free)]
	t := s - p.dwell() + 1
	if t < 1 {
		clear(entered)
		return
	}
	sums, old = sums[:len(free)], old[:len(free)]
	ring, lastBad := b.ring[:len(free)], b.lastBad[:len(free)]
	into := b.into[t*rings:][:rings]
	for g, stay := range free {
		run := into[ring[g]] + (sums[g] - old[g])
		better := run < stay && lastBad[g] < t
		entered[g] = better
		if better {
			free[g] = run
		}
	}
	if p.Ridden != nil && !math.IsInf(b.own[t], 1) {
		g := p.Ridden[t]
		if run := b.own[t] + (sums[g] - old[g]); run < free[g] && lastBad[g] < t {
			free[g], entered[g] = run, true
		}
	}
}
