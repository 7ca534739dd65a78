package gears

import "math"

// Lags searched, in seconds. Devices smooth speed, so it mostly trails; some
// crank sensors average over turns, then it leads.
const (
	leastLag = -2.0
	mostLag  = 6.0
	lagStep  = 0.25
)

// lag finds by how many seconds logged speed trails cadence. Within a gear the
// changes of both are alike, whatever the gear is: the lag is where they
// differ least. Shifts are rare and cannot pull it, since a large difference
// counts no more than a moderate one.
func (e *evidence) lag(spans []span) float64 {
	best, least := 0.0, math.Inf(1)
	var steps []step
	for _, s := range spans {
		steps = e.steps(steps, s)
	}
	for l := leastLag; l <= mostLag; l += lagStep {
		whole := int(math.Floor(l))
		b := spline(l - float64(whole))
		sum, n := 0.0, 0
		for i := range steps {
			v := &steps[i].speed
			k := whole - int(leastLag)
			d := b[0]*v[k] + b[1]*v[k+1] + b[2]*v[k+2] + b[3]*v[k+3] - steps[i].crank
			if math.IsNaN(d) {
				continue
			}
			d *= d
			sum += d / (d + 0.03*0.03)
			n++
		}
		if n >= 60 && sum < least*float64(n) {
			best, least = l, sum/float64(n)
		}
	}
	return best
}

// A step is the change over two seconds of log crank speed, and of log speed
// from one second before the least lag to two after the most.
type step struct {
	crank float64
	speed [mostLag - leastLag + 4]float64
}

// steps appends those of a span in which the crank changes its speed.
func (e *evidence) steps(to []step, s span) []step {
	for t := s.lo; t+2 < s.hi; t++ {
		a, b := e.crank[t], e.crank[t+2]
		if !(a >= pedallingRPM && b >= pedallingRPM) || a == b {
			continue
		}
		to = append(to, step{crank: math.Log(b / a)})
		last := &to[len(to)-1]
		for k := range last.speed {
			last.speed[k] = e.logStep(t + k + int(leastLag) - 1)
		}
	}
	return to
}

// logStep is the change of log speed from second t to two later, NaN where the
// bike rests or nothing is known.
func (e *evidence) logStep(t int) float64 {
	if t < 0 || t+2 >= len(e.speed) || e.paused[t] || e.paused[t+2] {
		return math.NaN()
	}
	a, b := e.speed[t], e.speed[t+2]
	if !(a > pedallingMPS && b > pedallingMPS) {
		return math.NaN()
	}
	return math.Log(b / a)
}
