package gears

// An edge is how much of a second's probability is that of the second before
// it and of the one after: gears change within a second, and cadence is counted
// over a turn of the crank or two, so that a log shows a change rather late
// than early.
type edge struct{ before, after float64 }

func edgeOf(e *evidence) edge {
	if e.byMotor {
		return edge{0.05, 0.1} // its speed is counted many times a second
	}
	return edge{0.05, 0.5}
}

// A keeper turns the probabilities of the chain into the columns of an
// Inference. Seconds come last first.
type keeper struct {
	f                  *Inference
	edge               edge
	before, now, after []float64 // probability by gear; before is earlier in the ride
	seen               int
}

func newKeeper(f *Inference, e *evidence, gears int) *keeper {
	return &keeper{f: f, edge: edgeOf(e), before: make([]float64, gears), now: make([]float64, gears), after: make([]float64, gears)}
}

func (k *keeper) visit(t int, drive, slip []float64) {
	coupled := 0.0
	slip, sum := slip[:len(drive)], k.before[:len(drive)]
	for g, d := range drive {
		coupled += d
		sum[g] = d + slip[g]
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
	now := k.now
	before, after := k.before[:len(now)], k.after[:len(now)]
	own := 1 - k.edge.before - k.edge.after
	best, most := Unknown, 0.0
	for g, p := range now {
		if p = own*p + k.edge.before*before[g] + k.edge.after*after[g]; p > most {
			best, most = g, p
		}
	}
	k.f.Best[t], k.f.Probability[t] = best, sober(most)
}
