package gears

// A Chain is a hidden Markov chain whose states are gears, each either driving
// the wheel or slipping (the freewheel runs, whatever the crank does).
//
// Gears stand on one ladder a ring. A change moves along the ladder, to a
// neighbour more often than far, or to a ladder next to it. Because both kinds
// of move weigh less by a constant factor a rung, one step of the chain costs
// time in proportion to the number of gears, not to its square.
type Chain struct {
	Rings int // ladders, from the smallest ring
	Rungs int // gears a ladder, from the lowest

	Start []float64 // probability of each gear at the first second, ring by ring
	Leave []float64 // probability a second that a gear is left

	// Arrive is how readily a change ends in each gear, against the others; the
	// scale does not matter. Nil means all alike.
	Arrive []float64

	RingShare float64 // share of changes that change the ring too
	RungDecay float64 // a change of k+1 rungs is this much rarer than one of k
	RingDecay float64 // the same while the ring changes, where zero rungs are commonest

	Slip  float64 // probability a second that a driving crank begins to slip
	After float64 // probability that the crank slips right after a change, and at first
}

// A Sight is what one second shows: likelihoods of the observation for every
// gear, all on one common scale.
type Sight struct {
	Held  []float64 // driving, and driving in the same gear a second ago
	Fresh []float64 // driving, but not so a second ago
	Slip  []float64 // slipping

	Steady float64 // scales Slip where the crank slipped a second ago too
	Grip   float64 // probability that a slipping crank begins to drive in the step to this second
	Pace   float64 // scales the probability of leaving a gear in the step to this second
}

func newSight(gears int) Sight { return newSights(1, gears)[0] }

// newSights returns sights that lie one after the other.
func newSights(n, gears int) []Sight {
	sights, all := make([]Sight, n), make([]float64, 3*gears*n)
	for i := range sights {
		part := all[3*gears*i:][:3*gears]
		sights[i] = Sight{Held: part[:gears], Fresh: part[gears : 2*gears], Slip: part[2*gears:], Steady: 1, Grip: usualGrip, Pace: 1}
	}
	return sights
}

func (s *Sight) copyFrom(o *Sight) {
	copy(s.Held, o.Held)
	copy(s.Fresh, o.Fresh)
	copy(s.Slip, o.Slip)
	s.Steady, s.Grip, s.Pace = o.Steady, o.Grip, o.Pace
}

// moves splits Leave by kind of change: along a ladder and across to others,
// each over the sum of the weights that leave the gear.
func (c *Chain) moves(w *walk) {
	for g := range w.arrive {
		w.arrive[g], w.in[g], w.out[g] = 1, 0, 0
		if c.Arrive != nil {
			w.arrive[g] = c.Arrive[g]
		}
	}
	c.along(w.arrive, w.in)
	c.across(w.arrive, w.out)
	for g := range w.arrive {
		along, across, share := w.in[g], w.out[g], c.RingShare
		switch {
		case across == 0:
			share = 0
		case along == 0:
			share = 1
		}
		w.moveRung[g], w.moveRing[g] = 0, 0
		if along > 0 {
			w.moveRung[g] = c.Leave[g] * (1 - share) / along
		}
		if across > 0 {
			w.moveRing[g] = c.Leave[g] * share / across
		}
	}
}

// along sums, for every gear, what the others of its ladder hold, weighed by the
// distance along the ladder: it fades from rung to rung. It adds to to. Both ways
// are gone at once, since neither waits for the other.
func (c *Chain) along(from, to []float64) {
	n, decay := c.Rungs, c.RungDecay
	for low := 0; low < len(from); low += n {
		from, to := from[low:low+n], to[low:low+n]
		up, down := 0.0, 0.0
		for i := range from {
			j := len(from) - 1 - i
			to[i] += up
			to[j] += down
			up = up*decay + from[i]
			down = down*decay + from[j]
		}
	}
}

// across sums, for every gear, what the ladders next to its own hold, weighed
// by the distance along the ladder. It adds to to.
func (c *Chain) across(from, to []float64) {
	n := c.Rungs
	for low := 0; low+n < len(from); low += n {
		c.acrossOne(from[low:low+n], to[low+n:low+2*n])
		c.acrossOne(from[low+n:low+2*n], to[low:low+n])
	}
}

func (c *Chain) acrossOne(from, to []float64) {
	decay := c.RingDecay
	to = to[:len(from)]
	up := 0.0
	for k, f := range from {
		up = up*decay + f
		to[k] += up
	}
	down := 0.0
	for k := len(from) - 1; k >= 0; k-- {
		to[k] += down
		down = (down + from[k]) * decay
	}
}
