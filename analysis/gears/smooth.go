package gears

import "math"

// block is the number of seconds whose forward probabilities are kept at once.
// Only one state a block is kept for the whole ride; the rest is worked out
// again on the way back, so memory for a ride of n seconds is n/block states.
const block = 256

// Smooth runs the chain forward and backward over n seconds and hands each
// second's probabilities to visit, last second first: of driving and of
// slipping in each gear, together 1. look must fill the sight of second t,
// and do so alike whenever it is asked.
func (c *Chain) Smooth(n int, look func(t int, s *Sight), visit func(t int, drive, slip []float64)) Passage {
	if n == 0 {
		return Passage{}
	}
	w := c.newWalk()
	marks := make([]float64, 0, 2*w.gears*(n/block+1))
	var p Passage
	for t := range n {
		look(t, &w.sight)
		p.LogLikelihood += math.Log(c.forward(w, t == 0))
		p.AtRisk += w.sight.Pace
		if t%block == 0 {
			marks = append(append(marks, w.drive...), w.slip...)
		}
	}
	c.back(w, n, marks, look, visit, &p)
	return p
}

// A Passage sums up one pass over a ride.
type Passage struct {
	LogLikelihood float64
	Changes       float64 // expected number of changes of gear
	RingChanges   float64 // of those, across ladders
	AtRisk        float64 // seconds in which a gear could have been left, scaled by Pace
}

// LogLikelihood is that of n seconds under the chain.
func (c *Chain) LogLikelihood(n int, look func(t int, s *Sight)) float64 {
	w, total := c.newWalk(), 0.0
	for t := range n {
		look(t, &w.sight)
		total += math.Log(c.forward(w, t == 0))
	}
	return total
}

// A walk is the working memory of one pass over the chain.
type walk struct {
	gears       int
	drive, slip []float64 // forward probabilities of the second last seen
	sight       Sight

	rung, ring, in, over []float64 // what leaves along a ladder and across, and what arrives
}

func (c *Chain) newWalk() *walk {
	c.prepare()
	n := c.Rings * c.Rungs
	return &walk{
		gears: n,
		drive: make([]float64, n), slip: make([]float64, n),
		sight: newSight(n),
		rung:  make([]float64, n), ring: make([]float64, n),
		in: make([]float64, n), over: make([]float64, n),
	}
}

func newSight(n int) Sight {
	return Sight{Held: make([]float64, n), Fresh: make([]float64, n), Slip: make([]float64, n), Steady: 1, Pace: 1}
}

// forward takes one step and returns the probability of what was seen.
func (c *Chain) forward(w *walk, first bool) float64 {
	s := &w.sight
	total := 0.0
	if first {
		for g := range w.drive {
			w.drive[g] = c.Start[g] * (1 - c.After) * s.Fresh[g]
			w.slip[g] = c.Start[g] * c.After * s.Slip[g]
			total += w.drive[g] + w.slip[g]
		}
	} else {
		for g, d := range w.drive {
			left := s.Pace * (d + w.slip[g])
			w.rung[g] = left * c.rung[g]
			w.ring[g] = left * c.ring[g]
		}
		c.along(w.rung, w.in)
		c.across(w.ring, w.in)
		for g, d := range w.drive {
			stay := 1 - s.Pace*c.Leave[g]
			sl := w.slip[g]
			in := w.in[g]
			d, sl = s.Held[g]*stay*(1-c.Slip)*d+s.Fresh[g]*(stay*c.Grip*sl+(1-c.After)*in),
				s.Slip[g]*(stay*(c.Slip*d+(1-c.Grip)*s.Steady*sl)+c.After*in)
			w.drive[g], w.slip[g] = d, sl
			total += d + sl
		}
	}
	if !(total > 0) {
		// Nothing the chain allows was seen: forget, rather than fail.
		for g := range w.drive {
			w.drive[g], w.slip[g] = c.Start[g]/2, c.Start[g]/2
		}
		return math.SmallestNonzeroFloat64
	}
	scale := 1 / total
	for g := range w.drive {
		w.drive[g] *= scale
		w.slip[g] *= scale
	}
	return total
}

// back goes through the blocks from the last to the first.
func (c *Chain) back(w *walk, n int, marks []float64, look func(int, *Sight), visit func(int, []float64, []float64), p *Passage) {
	g := w.gears
	rows := make([]float64, block*2*g)
	sights := make([]Sight, block)
	for i := range sights {
		sights[i] = newSight(g)
	}
	later := make([]float64, 2*g) // backward probabilities
	for i := range later {
		later[i] = 1
	}
	drive, slip := make([]float64, g), make([]float64, g)
	var after *Sight // what the second after shows
	next := newSight(g)
	for b := (n - 1) / block; b >= 0; b-- {
		lo, hi := b*block, min(n, (b+1)*block)
		mark := marks[b*2*g : (b+1)*2*g]
		copy(w.drive, mark[:g])
		copy(w.slip, mark[g:])
		own := w.sight
		for t := lo; t < hi; t++ {
			look(t, &sights[t-lo])
			if t > lo {
				w.sight = sights[t-lo]
				c.forward(w, false)
			}
			row := rows[(t-lo)*2*g : (t-lo+1)*2*g]
			copy(row[:g], w.drive)
			copy(row[g:], w.slip)
		}
		w.sight = own
		for t := hi - 1; t >= lo; t-- {
			if after != nil {
				c.backward(w, after, later[:g], later[g:])
			}
			row := rows[(t-lo)*2*g : (t-lo+1)*2*g]
			total := 0.0
			for i := range drive {
				drive[i], slip[i] = row[i]*later[i], row[g+i]*later[g+i]
				total += drive[i] + slip[i]
			}
			scale := 1.0
			if total > 0 {
				scale = 1 / total
			}
			if after != nil {
				for i := range drive {
					a := scale * (row[i] + row[g+i])
					p.Changes += a * w.in[i]
					p.RingChanges += a * w.over[i]
				}
			}
			for i := range drive {
				drive[i] *= scale
				slip[i] *= scale
			}
			visit(t, drive, slip)
			after = &sights[t-lo]
		}
		// The next block overwrites the sights: keep the one still needed.
		copySight(&next, after)
		after = &next
	}
}

func copySight(to, from *Sight) {
	copy(to.Held, from.Held)
	copy(to.Fresh, from.Fresh)
	copy(to.Slip, from.Slip)
	to.Steady, to.Pace = from.Steady, from.Pace
}

// backward takes one step back: drive and slip hold the backward
// probabilities of the second that s shows, then of the second before it.
func (c *Chain) backward(u *walk, s *Sight, drive, slip []float64) {
	for g := range drive {
		u.rung[g] = (1-c.After)*s.Fresh[g]*drive[g] + c.After*s.Slip[g]*slip[g]
		u.over[g] = 0
	}
	c.along(u.rung, u.in)
	c.across(u.rung, u.over)
	most := 0.0
	for g := range drive {
		stay := 1 - s.Pace*c.Leave[g]
		held, fresh, sl := s.Held[g]*drive[g], s.Fresh[g]*drive[g], s.Slip[g]*slip[g]
		u.over[g] *= s.Pace * c.ring[g]
		u.in[g] = s.Pace*c.rung[g]*u.in[g] + u.over[g]
		move := u.in[g]
		drive[g] = stay*((1-c.Slip)*held+c.Slip*sl) + move
		slip[g] = stay*(c.Grip*fresh+(1-c.Grip)*s.Steady*sl) + move
		most = max(most, drive[g], slip[g])
	}
	if !(most > 0) {
		for g := range drive {
			drive[g], slip[g] = 1, 1
		}
		return
	}
	scale := 1 / most
	for g := range drive {
		drive[g] *= scale
		slip[g] *= scale
		u.in[g] *= scale
		u.over[g] *= scale
	}
}
