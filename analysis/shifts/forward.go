package shifts

import "math"

// forward fills the planner's tables from the first second to the last.
func (b *Planner) forward(p Problem, rings int, price float64) {
	n, slots := p.Gears, p.dwell()+1
	for g, c := range p.Cost[:n] {
		b.free[g] = float64(c)
		b.sums[g], b.lastBad[g] = addFinite(0, c), -1
		if math.IsInf(float64(c), 1) {
			b.lastBad[g] = 0
		}
		b.entered[g] = false
	}
	for s := 1; s < p.Seconds; s++ {
		b.cheapestShift(s, rings, price*p.weight(s, false), p.ringFactor())
		b.ridersShift(p, s, rings, price)

		row := p.Cost[s*n : (s+1)*n]
		before := b.sums[(s-1)%slots*n:][:n]
		sums := b.sums[s%slots*n:][:n]
		for g, c := range row {
			sums[g] = addFinite(before[g], c)
			b.free[g] += float64(c)
			if math.IsInf(float64(c), 1) {
				b.lastBad[g] = s
			}
		}
		b.finishDwell(p, s, rings, sums)
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
	least, leastFrom := math.Inf(1), uint8(0)
	for g, v := range b.free {
		if r := b.ring[g]; v < into[r] {
			into[r], from[r] = v, uint8(g)
		}
		if v < least {
			least, leastFrom = v, uint8(g)
		}
	}
	for r := range into {
		into[r] += price
		if other := least + price*ringFactor; other < into[r] {
			into[r], from[r] = other, leastFrom
		}
	}
}

// ridersShift finds the least cost of shifting at second s exactly as the rider
// did there.
func (b *Planner) ridersShift(p Problem, s, rings int, price float64) {
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
func (b *Planner) entry(p Problem, rings, t, g int) float64 {
	v := b.into[t*rings+b.ring[g]]
	if p.Ridden != nil && g == p.Ridden[t] {
		return min(v, b.own[t])
	}
	return v
}

// finishDwell frees the runs that reach their least dwell in second s, where
// they beat the paths that were free before.
func (b *Planner) finishDwell(p Problem, s, rings int, sums []float64) {
	n, t := p.Gears, s-p.dwell()+1
	entered := b.entered[s*n : (s+1)*n]
	if t < 1 {
		clear(entered)
		return
	}
	old := b.sums[(t-1)%(p.dwell()+1)*n:][:n]
	into := b.into[t*rings:][:rings]
	for g, stay := range b.free {
		run := into[b.ring[g]] + (sums[g] - old[g])
		better := run < stay && b.lastBad[g] < t
		entered[g] = better
		if better {
			b.free[g] = run
		}
	}
	if p.Ridden != nil && !math.IsInf(b.own[t], 1) {
		g := p.Ridden[t]
		if run := b.own[t] + (sums[g] - old[g]); run < b.free[g] && b.lastBad[g] < t {
			b.free[g], entered[g] = run, true
		}
	}
}

func addFinite(sum float64, c float32) float64 {
	if math.IsInf(float64(c), 1) {
		return sum
	}
	return sum + float64(c)
}
