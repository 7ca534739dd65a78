package shifts

import (
	"fmt"
	"math"
)

// A Problem is a ride to be planned: what each second costs in each gear, what
// a shift costs in each second, and which path is always open.
type Problem struct {
	Seconds, Gears int

	// Cost in J of second s in gear g is Cost[s*Gears+g]; +Inf where the gear
	// cannot be ridden. It may be negative, never NaN.
	Cost []float32

	// Weight is the share of the shift price that a shift into second s costs;
	// +Inf where nobody can shift. Nil means 1 throughout.
	Weight []float32

	// Rings is how many chainrings there are, 0 for one. Gears lie ring by ring,
	// as many to each. A change of ring costs RingFactor shifts (below 1 is read
	// as 1).
	Rings      int
	RingFactor float64

	// PerCog prices every cog that a shift moves, beside the change of ring, as
	// in a derailleur; otherwise a shift is one however far it goes.
	PerCog bool

	// Reach is the most cogs that a shift into each second may move; nil means
	// any number.
	Reach []uint8

	// LeastDwell is how many seconds must lie between one shift and the next.
	LeastDwell int

	// Ridden is the path that the rider took, one gear a second; nil for none.
	// Where it is given, the plan may do what the rider did: a run of seconds
	// that the rider spent in one gear may be shorter than LeastDwell when the
	// plan rides it whole and leaves it as the rider did, and the rider's shifts
	// are open, at full price, where Weight forbids shifting.
	Ridden []int
}

// A Path is one choice of gears.
type Path struct {
	Gear   []int // one a second
	Cost   float64
	Shifts int
	Price  float64 // of a shift, J
}

// A Planner finds best paths. It keeps its buffers from one call to the next;
// the zero value is ready. It must not be used by two goroutines at once.
type Planner struct {
	free    []float64 // least cost up to this second, ending in each gear, free to shift
	sums    []float64 // running cost of each gear, a ring buffer of LeastDwell+1 seconds
	lastBad []int     // last second in which a gear could not be ridden
	entered []bool    // [s*Gears+g]: the best free path was still within its least dwell a second ago
	into    []float64 // [t%(LeastDwell+1)*Gears+g]: least cost before second t of having shifted into gear g
	from    []uint8   // [t*Gears+g]: the gear which that shift leaves
	shut    []bool    // [t]: no shift is open in second t but the rider's
	own     []float64 // [t]: least cost before t of having shifted as the rider did; +Inf where the rider did not
	run     []int     // [t]: where the short run began that the rider's shift at t ends; -1 where there is none
	viaRun  []bool    // [t]: own comes out of that run, not out of a free path
	ownBest []bool    // [t]: own is the cheapest way into the rider's gear
	across  []float64 // [g]: least cost of reaching gear g within its ring
	leaving []uint8   // [g]: from which gear
}

// mostGears is how many gears fit the planner's table of shifts.
const mostGears = 255

// Best returns a path of least total cost at the given price a shift, exactly,
// in O(Seconds*Gears). The whole ride is known in advance, as a rider knows who
// sees the hill. It returns an error when no path is open.
//
// The recursion: a path in gear g is free to shift when its run has lasted
// LeastDwell seconds or is the first. Free(s,g) is the lesser of Free(s-1,g) +
// cost(s,g) and of the cheapest shift into g at t = s-LeastDwell+1 plus the cost
// of g from t to s, which running sums give at once. Where each cog has its
// price, the cheapest shift into every gear is found in one sweep up the cogs and
// one down.
func (b *Planner) Best(p Problem, price float64) (Path, error) {
	if err := p.check(price); err != nil {
		return Path{}, err
	}
	if p.Seconds == 0 {
		return Path{Price: price}, nil
	}
	b.reset(&p)
	b.markRuns(&p)
	b.forward(&p, price)
	return b.trace(&p, price)
}

func (p *Problem) check(price float64) error {
	switch {
	case p.Gears < 1 || p.Gears > mostGears:
		return fmt.Errorf("shifts: a plan needs 1 to %d gears, not %d", mostGears, p.Gears)
	case len(p.Cost) != p.Seconds*p.Gears:
		return fmt.Errorf("shifts: %d costs for %d s in %d gears", len(p.Cost), p.Seconds, p.Gears)
	case p.Weight != nil && len(p.Weight) != p.Seconds:
		return fmt.Errorf("shifts: %d weights for %d s", len(p.Weight), p.Seconds)
	case p.Rings < 0 || p.Gears%p.rings() != 0:
		return fmt.Errorf("shifts: %d gears do not lie on %d rings", p.Gears, p.Rings)
	case p.Reach != nil && len(p.Reach) != p.Seconds:
		return fmt.Errorf("shifts: %d reaches for %d s", len(p.Reach), p.Seconds)
	case p.Ridden != nil && len(p.Ridden) != p.Seconds:
		return fmt.Errorf("shifts: a ridden path of %d s for %d s", len(p.Ridden), p.Seconds)
	case !(price >= 0) || math.IsInf(price, 0):
		return fmt.Errorf("shifts: a price of %g J a shift is not a number from 0 up", price)
	}
	return nil
}

func (p *Problem) dwell() int          { return max(1, p.LeastDwell) }
func (p *Problem) ringFactor() float64 { return max(1, p.RingFactor) }

func (p *Problem) rings() int { return max(1, p.Rings) }

// cogs is how many gears each ring has.
func (p *Problem) cogs() int { return p.Gears / p.rings() }

// moved is how many cogs lie between two gears.
func (p *Problem) moved(f, g int) int {
	n := p.cogs()
	return max(f%n-g%n, g%n-f%n)
}

// between is how many shifts' worth a change from gear f to gear g counts.
func (p *Problem) between(f, g int) float64 {
	if f == g {
		return 0
	}
	worth := 0.0
	if f/p.cogs() != g/p.cogs() {
		worth = p.ringFactor()
	}
	switch {
	case p.PerCog:
		return worth + float64(p.moved(f, g))
	case worth == 0:
		return 1
	}
	return worth
}

// Changes counts the shifts of a path: every cog and every ring moved where each
// has its price.
func (p *Problem) Changes(path []int) int {
	n, cogs := 0, p.cogs()
	for s := 1; s < len(path); s++ {
		f, g := path[s-1], path[s]
		switch {
		case f == g:
		case !p.PerCog:
			n++
		default:
			n += p.moved(f, g)
			if f/cogs != g/cogs {
				n++
			}
		}
	}
	return n
}

// weight is the share of the price that a shift into second t costs; own tells
// that the rider shifted there too.
func (p *Problem) weight(t int, own bool) float64 {
	if p.Weight == nil {
		return 1
	}
	w := float64(p.Weight[t])
	if own && math.IsInf(w, 1) {
		return 1
	}
	return w
}

// reset sizes the buffers.
func (b *Planner) reset(p *Problem) {
	b.free = sized(b.free, p.Gears)
	b.sums = sized(b.sums, (p.dwell()+1)*p.Gears)
	b.lastBad = sized(b.lastBad, p.Gears)
	b.entered = sized(b.entered, p.Seconds*p.Gears)
	b.into = sized(b.into, (p.dwell()+1)*p.Gears)
	b.from = sized(b.from, p.Seconds*p.Gears)
	b.shut = sized(b.shut, p.Seconds)
	b.own = sized(b.own, p.Seconds)
	b.run = sized(b.run, p.Seconds)
	b.viaRun = sized(b.viaRun, p.Seconds)
	b.ownBest = sized(b.ownBest, p.Seconds)
	b.across, b.leaving = sized(b.across, p.Gears), sized(b.leaving, p.Gears)
}

// markRuns notes, at each of the rider's shifts that ends a run shorter than
// the least dwell, where that run began; -1 elsewhere.
func (b *Planner) markRuns(p *Problem) {
	for t := range b.run {
		b.run[t], b.own[t], b.viaRun[t], b.ownBest[t] = -1, math.Inf(1), false, false
	}
	start := 0
	for t := 1; t < len(p.Ridden); t++ {
		if p.Ridden[t] == p.Ridden[t-1] {
			continue
		}
		if start > 0 && t-start < p.dwell() {
			b.run[t] = start
		}
		start = t
	}
}

func sized[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}
