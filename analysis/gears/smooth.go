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
// kept at once. Of what came before a block one state is kept, and the rest is
// worked out again on the way back: long rides take no more memory than short.
const block = 2048

// Smooth runs the chain forward and backward over n seconds and hands each
// second's probabilities to visit, last second first: of driving and of
// slipping in each gear, together 1. look must fill the sight of second t,
// and do so alike whenever it is asked.
func (c *Chain) Smooth(n int, look func(t int, s *Sight), visit func(t int, drive, slip []float64)) Passage {
	return c.smooth(new(Scratch), n, look, visit)
}

// A Scratch is memory that one inference after another may use, but not two at
// once. The zero value is ready.
type Scratch struct {
	gears       int       // that the rest is made for
	past        []float32 // forward probabilities of a block
	sights      []Sight
	ahead, back *walk
	drive, slip []float64
}

// room makes the memory fit, where it does not.
func (m *Scratch) room(seconds, gears int) {
	if m.gears == gears && len(m.sights) >= seconds {
		return
	}
	*m = Scratch{
		gears: gears, past: make([]float32, 2*gears*seconds), sights: newSights(seconds, gears),
		ahead: newWalk(gears), back: newWalk(gears),
		drive: make([]float64, gears), slip: make([]float64, gears),
	}
}

func (c *Chain) smooth(m *Scratch, n int, look func(t int, s *Sight), visit func(t int, drive, slip []float64)) Passage {
	p := Passage{likelihood: 1}
	if n == 0 {
		return p
	}
	g := c.Rings * c.Rungs
	m.room(min(n, block), g)
	past, sights, drive, slip := m.past, m.sights, m.drive, m.slip
	ahead, back := m.ahead.begin(c), m.back.begin(c)
	marks := c.mark(ahead, n, look)
	for i := range back.drive {
		back.drive[i], back.slip[i] = 1, 1
	}
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

func newWalk(n int) *walk {
	all := make([]float64, 8*n)
	return &walk{
		gears: n, sight: newSight(n),
		drive: all[:n], slip: all[n : 2*n],
		along: all[2*n : 3*n], across: all[3*n : 4*n], in: all[4*n : 5*n], out: all[5*n : 6*n],
		moveRung: all[6*n : 7*n], moveRing: all[7*n:],
	}
}

// begin makes the walk ready for a pass over a chain.
func (w *walk) begin(c *Chain) *walk {
	w.scale = 1
	c.moves(w.moveRung, w.moveRing)
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
	decay, rungs := c.RungDecay, c.Rungs
	clear(in)
	if c.Rings > 1 {
		moveRing, across := w.moveRing[:n], w.across[:n]
		for g := range drive {
			across[g] = pace * (drive[g] + slip[g]) * moveRing[g]
		}
		c.across(across, in)
	}
	// What gears of one ladder leave to each other fades from rung to rung: it
	// is carried up the ladder here, and down it in the loop after this.
	for low := 0; low < n; low += rungs {
		up := 0.0
		for g := low; g < low+rungs; g++ {
			left := pace * (drive[g] + slip[g]) * moveRung[g]
			along[g] = left
			in[g] += up
			up = up*decay + left
		}
	}
	leave := c.Leave[:n]
	on, off := 1-c.After, c.After
	grip := s.Grip
	hold, lose, slide := 1-c.Slip, c.Slip, (1-grip)*s.Steady
	scale := w.scale
	for high := n; high > 0; high -= rungs {
		down := 0.0
		for g := high - 1; g >= high-rungs; g-- {
			i := in[g] + down
			down = down*decay + along[g]
			stay := scale - pace*leave[g]
			d, sl := stay*drive[g], stay*slip[g]
			d, sl = held[g]*hold*d+fresh[g]*(grip*sl+on*i), slipping[g]*(lose*d+slide*sl+off*i)
			drive[g], slip[g] = d, sl
			driven += d
			slipped += sl
		}
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
	decay, rungs := c.RungDecay, c.Rungs
	for low := 0; low < n; low += rungs { // as in forward: weights are the same in both directions
		up := 0.0
		for g := low; g < low+rungs; g++ {
			left := on*fresh[g]*drive[g] + off*slipping[g]*slip[g]
			along[g], in[g] = left, up
			up = up*decay + left
		}
	}
	clear(out)
	if c.Rings > 1 {
		c.across(along, out)
	}
	moveRung, moveRing, leave := w.moveRung[:n], w.moveRing[:n], c.Leave[:n]
	pace := s.Pace
	grip, slide := s.Grip*scale, (1-s.Grip)*s.Steady*scale
	hold, lose := (1-c.Slip)*scale, c.Slip*scale
	driven, slipped := 0.0, 0.0
	for high := n; high > 0; high -= rungs {
		down := 0.0
		for g := high - 1; g >= high-rungs; g-- {
			o := out[g] * pace * moveRing[g]
			i := pace*moveRung[g]*(in[g]+down) + o
			down = down*decay + along[g]
			stay := 1 - pace*leave[g]
			d, sl := drive[g], slipping[g]*slip[g]
			d, sl = stay*(hold*held[g]*d+lose*sl)+i, stay*(grip*fresh[g]*d+slide*sl)+i
			drive[g], slip[g], in[g], out[g] = d, sl, i, o
			driven += d
			slipped += sl
		}
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
