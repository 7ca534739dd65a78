package gears

import "math"

// A Passage sums up one pass over a ride.
type Passage struct {
	LogLikelihood float64
	Changes       float64 // expected number of changes of gear
	RingChanges   float64 // of those, across ladders
	AtRisk        float64 // seconds in which a gear could have been left, scaled by Pace

	likelihood float64 // not yet in LogLikelihood
}

// see multiplies the likelihood by the probability of a second. Logarithms are
// taken only when the product runs out of range.
func (p *Passage) see(probability float64) {
	product := p.likelihood * probability
	if product > 1e-250 && product < 1e250 {
		p.likelihood = product
		return
	}
	p.LogLikelihood += math.Log(p.likelihood)
	p.likelihood = probability
}

func (p *Passage) add(o Passage) {
	p.LogLikelihood += o.LogLikelihood
	p.Changes += o.Changes
	p.RingChanges += o.RingChanges
	p.AtRisk += o.AtRisk
}

// block is the number of seconds whose sights and forward probabilities are
// kept at once. For the whole ride one state a block is kept, and the rest is
// worked out again on the way back: that is quicker than memory never touched
// before.
const block = 512

// Smooth runs the chain forward and backward over n seconds and hands each
// second's probabilities to visit, last second first: of driving and of
// slipping in each gear, together 1. look must fill the sight of second t,
// and do so alike whenever it is asked.
func (c *Chain) Smooth(n int, look func(t int, s *Sight), visit func(t int, drive, slip []float64)) Passage {
	return c.smooth(new(scratch), n, look, visit)
}

// scratch is memory that passes can share.
type scratch struct {
	past   []float32 // forward probabilities of a block
	sights []Sight
}

func (m *scratch) room(seconds, gears int) {
	if len(m.sights) < seconds {
		m.past, m.sights = make([]float32, 2*gears*seconds), newSights(seconds, gears)
	}
}

func (c *Chain) smooth(m *scratch, n int, look func(t int, s *Sight), visit func(t int, drive, slip []float64)) Passage {
	p := Passage{likelihood: 1}
	if n == 0 {
		return p
	}
	ahead, back := c.newWalk(), c.newWalk()
	g := ahead.gears
	marks := c.mark(ahead, n, look)
	m.room(min(n, block), g)
	past, sights := m.past, m.sights
	for i := range back.drive {
		back.drive[i], back.slip[i] = 1, 1
	}
	drive, slip := make([]float64, g), make([]float64, g)
	for from := (n - 1) / block * block; from >= 0; from -= block {
		to := min(n, from+block)
		if from > 0 {
			ahead.restore(marks[from/block-1])
		}
		if to < n {
			ahead.sight.copyFrom(&sights[0]) // of second to, which the block overwrites
		}
		for t := from; t < to; t++ {
			s := &sights[t-from]
			look(t, s)
			p.see(c.forward(ahead, s, t == 0))
			p.AtRisk += s.Pace
			ahead.keep(past[2*g*(t-from) : 2*g*(t-from+1)])
		}
		for t := to - 1; t >= from; t-- {
			row := past[2*g*(t-from) : 2*g*(t-from+1)]
			switch {
			case t == n-1:
			case t == to-1:
				c.backward(back, &ahead.sight)
			default:
				c.backward(back, &sights[t+1-from])
			}
			scale := back.meet(row, drive, slip)
			if t < n-1 {
				back.count(row, scale, &p)
			}
			visit(t, drive, slip)
		}
	}
	p.LogLikelihood += math.Log(p.likelihood)
	p.likelihood = 1
	return p
}

// mark goes forward once and returns the state before each block but the first.
func (c *Chain) mark(w *walk, n int, look func(t int, s *Sight)) [][]float64 {
	var marks [][]float64
	for t := range (n - 1) / block * block {
		look(t, &w.sight)
		c.forward(w, &w.sight, t == 0)
		if (t+1)%block == 0 {
			marks = append(marks, w.save())
		}
	}
	return marks
}

// A walk is the working memory of one pass over the chain.
type walk struct {
	gears       int
	drive, slip []float64 // probabilities of the second last seen, up to the factor scale
	scale       float64
	sight       Sight // of a second outside the block

	moveRung, moveRing     []float64 // probability of leaving by each kind of change, over the weights
	along, across, in, out []float64 // what leaves and what arrives
}

func (c *Chain) newWalk() *walk {
	n := c.Rings * c.Rungs
	all := make([]float64, 6*n)
	w := &walk{
		gears: n, sight: newSight(n), scale: 1,
		drive: all[:n], slip: all[n : 2*n],
		along: all[2*n : 3*n], across: all[3*n : 4*n], in: all[4*n : 5*n], out: all[5*n:],
	}
	w.moveRung, w.moveRing = c.moves()
	return w
}

func (w *walk) save() []float64 {
	mark := make([]float64, 0, 2*w.gears)
	for _, half := range [2][]float64{w.drive, w.slip} {
		for _, p := range half {
			mark = append(mark, p*w.scale)
		}
	}
	return mark
}

func (w *walk) restore(mark []float64) {
	copy(w.drive, mark)
	copy(w.slip, mark[w.gears:])
	w.scale = 1
}

// keep stores the probabilities of the second last seen.
func (w *walk) keep(row []float32) {
	n := w.gears
	drive, slip := row[:n], row[n:][:n]
	for g, d := range w.drive[:n] {
		drive[g] = float32(d * w.scale)
	}
	for g, s := range w.slip[:n] {
		slip[g] = float32(s * w.scale)
	}
}

// forward takes one step and returns the probability of what was seen.
func (c *Chain) forward(w *walk, s *Sight, first bool) float64 {
	n := w.gears
	drive, slip := w.drive[:n], w.slip[:n]
	held, fresh, slipping := s.Held[:n], s.Fresh[:n], s.Slip[:n]
	driven, slipped := 0.0, 0.0
	if first {
		for g := range drive {
			drive[g] = c.Start[g] * (1 - c.After) * fresh[g]
			slip[g] = c.Start[g] * c.After * slipping[g]
			driven += drive[g] + slip[g]
		}
		return c.weigh(w, driven)
	}
	moveRung, along, in := w.moveRung[:n], w.along[:n], w.in[:n]
	pace := s.Pace * w.scale
	if c.Rings == 1 {
		for g := range drive {
			along[g] = pace * (drive[g] + slip[g]) * moveRung[g]
		}
		c.along(along, in)
	} else {
		moveRing, across := w.moveRing[:n], w.across[:n]
		for g := range drive {
			left := pace * (drive[g] + slip[g])
			along[g] = left * moveRung[g]
			across[g] = left * moveRing[g]
		}
		c.along(along, in)
		c.across(across, in)
	}
	leave := c.Leave[:n]
	on, off := 1-c.After, c.After
	grip := s.Grip
	hold, lose, slide := 1-c.Slip, c.Slip, (1-grip)*s.Steady
	scale := w.scale
	for g, d := range drive {
		stay := scale - pace*leave[g]
		d *= stay
		sl := stay * slip[g]
		d, sl = held[g]*hold*d+fresh[g]*(grip*sl+on*in[g]), slipping[g]*(lose*d+slide*sl+off*in[g])
		drive[g], slip[g] = d, sl
		driven += d
		slipped += sl
	}
	return c.weigh(w, driven+slipped)
}

// weigh notes the sum of the probabilities as the scale of the next step, and
// returns it.
func (c *Chain) weigh(w *walk, total float64) float64 {
	if !(total > 0) {
		// Nothing the chain allows was seen: forget, rather than fail.
		for g := range w.drive {
			w.drive[g], w.slip[g] = c.Start[g]/2, c.Start[g]/2
		}
		w.scale = 1
		return math.SmallestNonzeroFloat64
	}
	w.scale = 1 / total
	return total
}

// backward takes one step back: the walk holds the backward probabilities of
// the second it sees, then of the second before; in and out then hold the part
// of those that comes from changes, and from changes of ring.
func (c *Chain) backward(w *walk, s *Sight) {
	n := w.gears
	drive, slip := w.drive[:n], w.slip[:n]
	held, fresh, slipping := s.Held[:n], s.Fresh[:n], s.Slip[:n]
	along, in, out := w.along[:n], w.in[:n], w.out[:n]
	on, off, scale := (1-c.After)*w.scale, c.After*w.scale, w.scale
	for g := range drive {
		along[g] = on*fresh[g]*drive[g] + off*slipping[g]*slip[g]
	}
	c.along(along, in)
	clear(out)
	if c.Rings > 1 {
		c.across(along, out)
	}
	moveRung, moveRing, leave := w.moveRung[:n], w.moveRing[:n], c.Leave[:n]
	pace := s.Pace
	grip, slide := s.Grip*scale, (1-s.Grip)*s.Steady*scale
	hold, lose := (1-c.Slip)*scale, c.Slip*scale
	driven, slipped := 0.0, 0.0
	for g, d := range drive {
		o := out[g] * pace * moveRing[g]
		i := pace*moveRung[g]*in[g] + o
		stay := 1 - pace*leave[g]
		sl := slipping[g] * slip[g]
		d, sl = stay*(hold*held[g]*d+lose*sl)+i, stay*(grip*fresh[g]*d+slide*sl)+i
		drive[g], slip[g], in[g], out[g] = d, sl, i, o
		driven += d
		slipped += sl
	}
	if total := driven + slipped; total > 0 {
		w.scale = 1 / total
		return
	}
	for g := range drive {
		drive[g], slip[g] = 1, 1
	}
	w.scale = 1
}

// meet multiplies forward and backward probabilities into those of the second
// and returns the factor that made their sum 1.
func (w *walk) meet(row []float32, drive, slip []float64) float64 {
	n := w.gears
	a, b, x, y := row[:n], row[n:][:n], w.drive[:n], w.slip[:n]
	drive, slip = drive[:n], slip[:n]
	driven, slipped := 0.0, 0.0
	for g := range a {
		d, s := float64(a[g])*x[g], float64(b[g])*y[g]
		drive[g], slip[g] = d, s
		driven += d
		slipped += s
	}
	total := driven + slipped
	if !(total > 0) {
		return 0
	}
	scale := 1 / total
	for g := range drive {
		drive[g] *= scale
		slip[g] *= scale
	}
	return scale
}

// count adds the changes expected in the step that backward took last.
func (w *walk) count(row []float32, scale float64, p *Passage) {
	n := w.gears
	a, b, in, out := row[:n], row[n:][:n], w.in[:n], w.out[:n]
	changes, rings := 0.0, 0.0
	for g := range in {
		from := float64(a[g]) + float64(b[g])
		changes += from * in[g]
		rings += from * out[g]
	}
	p.Changes += scale * changes
	p.RingChanges += scale * rings
}
