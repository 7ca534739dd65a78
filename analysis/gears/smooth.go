package gears

import "math"

// A Passage sums up one pass over a ride.
type Passage struct {
	LogLikelihood float64
	Changes       float64 // expected number of changes of gear
	RingChanges   float64 // of those, across ladders
	AtRisk        float64 // seconds in which a gear could have been left, scaled by Pace

	likelihood float64 // not yet in LogLikelihood; 0 for none
}

// see multiplies the likelihood by the probability of a second. Logarithms are
// taken only when the product runs out of range.
func (p *Passage) see(probability float64) {
	product := p.likelihood * probability
	if product > 1e-250 && product < 1e250 {
		p.likelihood = product
		return
	}
	p.settle()
	p.likelihood = probability
}

// settle takes the likelihood into its logarithm.
func (p *Passage) settle() {
	if p.likelihood > 0 {
		p.LogLikelihood += math.Log(p.likelihood)
	}
	p.likelihood = 0
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
	var p Passage
	c.smooth(new(Scratch), n, look, visit, &p)
	p.settle()
	return p
}

// A Scratch is memory that one inference after another may use, but not two at
// once. The zero value is ready.
type Scratch struct {
	gears       int       // that the rest is made for
	past        []float64 // forward probabilities of a block, a row a second
	sights      []Sight
	outside     Sight // of the second after a block
	walk        *walk
	back        []float64 // backward probabilities
	drive, slip []float64

	heard, whole view          // of a stretch and of the ride
	floats       bump[float64] // columns of the evidence and of the inference
	ints         bump[int]
}

// A bump hands out zeros bit by bit.
type bump[T any] struct{ all []T }

// reset takes all back, and makes room for n.
func (b *bump[T]) reset(n int) {
	if cap(b.all) < n {
		b.all = make([]T, n)
	}
	b.all = b.all[:0]
}

// take hands out n.
func (b *bump[T]) take(n int) []T {
	from := len(b.all)
	if from+n > cap(b.all) {
		return make([]T, n)
	}
	b.all = b.all[:from+n]
	part := b.all[from : from+n : from+n]
	clear(part)
	return part
}

// room makes the memory fit, where it does not.
func (m *Scratch) room(seconds, gears int) {
	if m.gears == gears && len(m.sights) >= seconds {
		return
	}
	m.gears, m.walk = gears, newWalk(gears)
	m.past, m.back = make([]float64, 2*gears*max(seconds, 2)), make([]float64, 2*gears)
	m.sights, m.outside = newSights(seconds, gears), newSight(gears)
	m.drive, m.slip = make([]float64, gears), make([]float64, gears)
}

// row is the forward probabilities of second i of a block: of driving in each
// gear, then of slipping, up to a common factor.
func (m *Scratch) row(i int) []float64 { return m.past[2*m.gears*i : 2*m.gears*(i+1)] }

// smooth is Smooth that adds to a passage, where one is wanted.
func (c *Chain) smooth(m *Scratch, n int, look func(t int, s *Sight), visit func(t int, drive, slip []float64), p *Passage) {
	if n == 0 {
		return
	}
	m.room(min(n, block), c.Rings*c.Rungs)
	w := m.walk.begin(c)
	marks := c.mark(m, n, look)
	for i := range m.back {
		m.back[i] = 1
	}
	backScale := 1.0
	for from := (n - 1) / block * block; from >= 0; from -= block {
		to := min(n, from+block)
		var before []float64 // nothing is before the first second
		if from > 0 {
			before = marks[from/block-1]
		}
		if to < n {
			m.outside.copyFrom(&m.sights[0]) // of second to, which the block overwrites
		}
		w.scale = 1
		for t := from; t < to; t++ {
			s, row := &m.sights[t-from], m.row(t-from)
			look(t, s)
			seen := c.forward(w, before, row, s)
			if p != nil {
				p.see(seen)
				p.AtRisk += s.Pace
			}
			before = row
		}
		w.scale = backScale
		for t := to - 1; t >= from; t-- {
			switch {
			case t == n-1:
			case t == to-1:
				c.backward(w, m.back, &m.outside)
			default:
				c.backward(w, m.back, &m.sights[t+1-from])
			}
			scale := meet(m.row(t-from), m.back, m.drive, m.slip)
			if p != nil && t < n-1 {
				w.count(m.row(t-from), scale, p)
			}
			visit(t, m.drive, m.slip)
		}
		backScale = w.scale
	}
}

// mark goes forward once and returns the probabilities before each block but
// the first.
func (c *Chain) mark(m *Scratch, n int, look func(t int, s *Sight)) [][]float64 {
	var marks [][]float64
	var before []float64
	for t := range (n - 1) / block * block {
		s, row := &m.sights[0], m.row(t%2)
		look(t, s)
		c.forward(m.walk, before, row, s)
		before = row
		if (t+1)%block == 0 {
			marks = append(marks, m.walk.scaled(row))
		}
	}
	return marks
}

// A walk is the working memory of one pass over the chain.
type walk struct {
	gears int
	scale float64 // that brings the sum of the probabilities last worked out to 1

	moveRung, moveRing     []float64 // probability of leaving by each kind of change, over the weights
	along, across, in, out []float64 // what leaves and what arrives
	arrive                 []float64 // weight of each gear as the end of a change
}

func newWalk(n int) *walk {
	all := make([]float64, 7*n)
	return &walk{
		gears: n,
		along: all[:n], across: all[n : 2*n], in: all[2*n : 3*n], out: all[3*n : 4*n],
		moveRung: all[4*n : 5*n], moveRing: all[5*n : 6*n], arrive: all[6*n:],
	}
}

// begin makes the walk ready for a pass over a chain.
func (w *walk) begin(c *Chain) *walk {
	w.scale = 1
	c.moves(w)
	return w
}

// scaled is a copy of the row last worked out, with a sum of 1.
func (w *walk) scaled(row []float64) []float64 {
	mark := make([]float64, len(row))
	for i, p := range row {
		mark[i] = p * w.scale
	}
	return mark
}

// forward takes one step from the row before, nil at first, to the row of the
// second seen, and returns the probability of what was seen.
func (c *Chain) forward(w *walk, before, row []float64, s *Sight) float64 {
	n := w.gears
	drive, slip := row[:n], row[n:][:n]
	held, fresh, slipping := s.Held[:n], s.Fresh[:n], s.Slip[:n]
	driven, slipped := 0.0, 0.0
	if before == nil {
		for g, p := range c.Start[:n] {
			drive[g] = p * (1 - c.After) * fresh[g]
			slip[g] = p * c.After * slipping[g]
			driven += drive[g] + slip[g]
		}
		return c.weigh(w, row, driven)
	}
	drove, slid := before[:n], before[n:][:n]
	moveRung, along, in := w.moveRung[:n], w.along[:n], w.in[:n]
	pace := s.Pace * w.scale
	for g := range drove {
		along[g] = pace * (drove[g] + slid[g]) * moveRung[g]
		in[g] = 0
	}
	if c.Rings > 1 {
		moveRing, across := w.moveRing[:n], w.across[:n]
		for g := range drove {
			across[g] = pace * (drove[g] + slid[g]) * moveRing[g]
		}
		c.across(across, in)
	}
	c.along(along, in)
	leave := c.Leave[:n]
	on, off := 1-c.After, c.After
	arrive := w.arrive[:n]
	grip := s.Grip
	hold, lose, slide := 1-c.Slip, c.Slip, (1-grip)*s.Steady
	scale := w.scale
	for g, i := range in {
		i *= arrive[g]
		stay := scale - pace*leave[g]
		d, sl := stay*drove[g], stay*slid[g]
		d, sl = held[g]*hold*d+fresh[g]*(grip*sl+on*i), slipping[g]*(lose*d+slide*sl+off*i)
		drive[g], slip[g] = d, sl
		driven += d
		slipped += sl
	}
	return c.weigh(w, row, driven+slipped)
}

// weigh notes what brings the sum of a row to 1, and returns the sum.
func (c *Chain) weigh(w *walk, row []float64, total float64) float64 {
	if !(total > 0) {
		// Nothing the chain allows was seen: forget, rather than fail.
		for g, p := range c.Start {
			row[g], row[w.gears+g] = p/2, p/2
		}
		w.scale = 1
		return math.SmallestNonzeroFloat64
	}
	w.scale = 1 / total
	return total
}

// backward takes one step back: row holds the backward probabilities of the
// second that s sees, then of the second before; in and out then hold the part
// of those that comes from changes, and from changes of ring.
func (c *Chain) backward(w *walk, row []float64, s *Sight) {
	n := w.gears
	drive, slip := row[:n], row[n:][:n]
	held, fresh, slipping := s.Held[:n], s.Fresh[:n], s.Slip[:n]
	along, in, out := w.along[:n], w.in[:n], w.out[:n]
	on, off := (1-c.After)*w.scale, c.After*w.scale
	arrive := w.arrive[:n]
	for g := range drive {
		along[g] = arrive[g] * (on*fresh[g]*drive[g] + off*slipping[g]*slip[g])
		in[g], out[g] = 0, 0
	}
	c.along(along, in) // weights are the same in both directions
	if c.Rings > 1 {
		c.across(along, out)
	}
	moveRung, moveRing, leave := w.moveRung[:n], w.moveRing[:n], c.Leave[:n]
	pace := s.Pace
	grip, slide := s.Grip*w.scale, (1-s.Grip)*s.Steady*w.scale
	hold, lose := (1-c.Slip)*w.scale, c.Slip*w.scale
	driven, slipped := 0.0, 0.0
	for g := range drive {
		o := out[g] * pace * moveRing[g]
		i := pace*moveRung[g]*in[g] + o
		stay := 1 - pace*leave[g]
		d, sl := drive[g], slipping[g]*slip[g]
		d, sl = stay*(hold*held[g]*d+lose*sl)+i, stay*(grip*fresh[g]*d+slide*sl)+i
		drive[g], slip[g], in[g], out[g] = d, sl, i, o
		driven += d
		slipped += sl
	}
	if total := driven + slipped; total > 0 {
		w.scale = 1 / total
		return
	}
	for g := range row {
		row[g] = 1
	}
	w.scale = 1
}

// meet multiplies forward and backward probabilities into those of the second
// and returns the factor that made their sum 1.
func meet(ahead, back, drive, slip []float64) float64 {
	n := len(drive)
	a, b, x, y := ahead[:n], ahead[n:][:n], back[:n], back[n:][:n]
	slip = slip[:n]
	driven, slipped := 0.0, 0.0
	for g := range drive {
		d, s := a[g]*x[g], b[g]*y[g]
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
func (w *walk) count(row []float64, scale float64, p *Passage) {
	n := w.gears
	a, b, in, out := row[:n], row[n:][:n], w.in[:n], w.out[:n]
	changes, rings := 0.0, 0.0
	for g := range in {
		from := a[g] + b[g]
		changes += from * in[g]
		rings += from * out[g]
	}
	p.Changes += scale * changes
	p.RingChanges += scale * rings
}
