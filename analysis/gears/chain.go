package gears

import "math"

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
	// RingShare is the share of changes that change the ring too.
	RingShare float64
	RungDecay float64 // a change of k+1 rungs is this much rarer than one of k
	RingDecay float64 // the same while the ring changes, where zero rungs are commonest

	Slip  float64 // probability a second that a driving crank begins to slip
	Grip  float64 // probability a second that a slipping crank begins to drive
	After float64 // probability that the crank slips right after a change

	rung, ring []float64 // Leave split by kind of change, over the sum of the weights that leave the gear
}

// A Sight is what one second shows: likelihoods of the observation for every
// gear, all on one common scale.
type Sight struct {
	Held  []float64 // driving, and driving in the same gear a second ago
	Fresh []float64 // driving, but not so a second ago
	Slip  []float64 // slipping
	// Steady scales Slip where the crank slipped a second ago too.
	Steady float64
	// Pace scales the probability of leaving a gear in the step to this second.
	Pace float64
}

// prepare normalises the moves for each gear that is left.
func (c *Chain) prepare() {
	n := c.Rings * c.Rungs
	c.rung, c.ring = make([]float64, n), make([]float64, n)
	for r := range c.Rings {
		for k := range c.Rungs {
			g := r*c.Rungs + k
			along, across := 0.0, 0.0
			for j := range c.Rungs {
				d := math.Abs(float64(j - k))
				if j != k {
					along += math.Pow(c.RungDecay, d-1)
				}
				across += math.Pow(c.RingDecay, d)
			}
			neighbours := 0.0
			if r > 0 {
				neighbours++
			}
			if r < c.Rings-1 {
				neighbours++
			}
			share := c.RingShare
			if neighbours == 0 {
				share = 0
			} else if along == 0 {
				share = 1
			}
			if along > 0 {
				c.rung[g] = c.Leave[g] * (1 - share) / along
			}
			if neighbours > 0 {
				c.ring[g] = c.Leave[g] * share / (across * neighbours)
			}
		}
	}
}

// along sums, for every gear, what the other gears of its ladder hold, weighed
// by their distance. Weights are symmetric, so one function serves both
// directions of time. It overwrites to.
func (c *Chain) along(from, to []float64) {
	n := c.Rungs
	for r := range c.Rings {
		from, to := from[r*n:r*n+n], to[r*n:r*n+n]
		run := 0.0
		for k, f := range from {
			to[k] = run
			run = run*c.RungDecay + f
		}
		run = 0
		for k := n - 1; k >= 0; k-- {
			to[k] += run
			run = run*c.RungDecay + from[k]
		}
	}
}

// across adds to every gear what the ladders next to its own hold, weighed by
// the distance along the ladder.
func (c *Chain) across(from, to []float64) {
	n := c.Rungs
	for r := range c.Rings - 1 {
		low, high := r*n, (r+1)*n
		c.acrossOne(from[low:low+n], to[high:high+n])
		c.acrossOne(from[high:high+n], to[low:low+n])
	}
}

func (c *Chain) acrossOne(from, to []float64) {
	run := 0.0
	for k, f := range from {
		run = run*c.RingDecay + f
		to[k] += run
	}
	run = 0
	for k := len(from) - 1; k >= 0; k-- {
		to[k] += run * c.RingDecay
		run = run*c.RingDecay + from[k]
	}
}
