package gears

import "slices"

// A second's probability is mixed with that of the seconds about it: cadence is
// counted over a turn of the crank or two and gears change within a second, so
// the clock of a change is not known to the second. The log shows a change
// rather late than early.
const (
	edgeBefore = 0.1
	edgeAfter  = 0.3
)

// A keeper turns the probabilities of the chain into the columns of an
// Inference. Seconds come last first.
type keeper struct {
	f                  *Inference
	t                  int       // the second that now is of; -1 before the first
	before, now, after []float64 // probability by gear; before is earlier in the ride
	seen               int
}

func newKeeper(f *Inference, gears int) *keeper {
	return &keeper{f: f, before: make([]float64, gears), now: make([]float64, gears), after: make([]float64, gears)}
}

func (k *keeper) visit(t int, drive, slip []float64) {
	coupled := 0.0
	for g, d := range drive {
		coupled += d
		k.before[g] = d + slip[g]
	}
	k.f.Coupled[t] = coupled
	if k.seen++; k.seen > 1 {
		if k.seen == 2 {
			copy(k.after, k.now)
		}
		k.name(t + 1)
	}
	k.before, k.now, k.after = k.after, k.before, k.now
}

// finish names the first second of the ride.
func (k *keeper) finish() {
	if k.seen == 0 {
		return
	}
	copy(k.before, k.now)
	if k.seen == 1 {
		copy(k.after, k.now)
	}
	k.name(0)
}

func (k *keeper) name(t int) {
	for g, p := range k.now {
		k.after[g] = (1-edgeBefore-edgeAfter)*p + edgeBefore*k.before[g] + edgeAfter*k.after[g]
	}
	best := slices.Max(k.after)
	k.f.Best[t], k.f.Probability[t] = slices.Index(k.after, best), sober(best)
}
