package gears

import "math"

// Lags searched, in seconds. Devices smooth speed, so it mostly trails; some
// crank sensors average over turns, then it leads.
const (
	leastLag = -3.0
	mostLag  = 6.0
	lagStep  = 0.25
	lagLeap  = 4 // steps: a lag found at leaps is refined by steps to both sides
)

// lag finds by how many seconds logged speed trails cadence. Within a gear the
// changes of both are alike, whatever the gear is: the lag is where they
// differ least. Shifts are rare and cannot pull it, since a large difference
// counts no more than a moderate one.
func (e *evidence) lag(spans []span) float64 {
	seconds := 0
	for _, span := range spans {
		seconds += span.hi - span.lo + reachBack + reachAhead
	}
	s := steps{crank: make([]float64, 0, seconds), first: make([]int, 0, seconds), speed: make([]float64, 0, seconds)}
	for _, span := range spans {
		s.add(e, span)
	}
	best, least := 0.0, math.Inf(1)
	try := func(from, to, step float64) {
		for l := max(from, leastLag); l <= min(to, mostLag); l += step {
			if sum, n := s.apart(l); n >= 60 && sum < least*float64(n) {
				best, least = l, sum/float64(n)
			}
		}
	}
	try(leastLag, mostLag, lagLeap*lagStep)
	for step := lagLeap * lagStep / 2; step >= lagStep; step /= 2 {
		try(best-step, best+step, 2*step)
	}
	return best
}

// steps are the changes of log crank speed over two seconds, and of log speed.
type steps struct {
	crank []float64
	first []int     // by step: where in speed its seconds begin, at that of the least lag and one before
	speed []float64 // by second of the spans; NaN where the bike rests or nothing is known
}

// reach is how far before and after a span its steps look.
const (
	reachBack  = 1 - int(leastLag)
	reachAhead = int(mostLag) + 2
)

// add appends the steps of a span in which the crank changes its speed.
func (s *steps) add(e *evidence, in span) {
	start := len(s.speed)
	a, b := e.logSpeed(in.lo-reachBack), e.logSpeed(in.lo-reachBack+1)
	for t := in.lo - reachBack; t < in.hi+reachAhead; t++ {
		c := e.logSpeed(t + 2)
		s.speed = append(s.speed, c-a)
		a, b = b, c
	}
	for t := in.lo; t+2 < in.hi; t++ {
		if a, b := e.crank[t], e.crank[t+2]; a >= pedallingRPM && b >= pedallingRPM && a != b {
			s.crank, s.first = append(s.crank, math.Log(b/a)), append(s.first, start+t-in.lo)
		}
	}
}

// apart sums by how much crank and bike differ at a lag, and counts the steps
// for which that is known.
func (s *steps) apart(lag float64) (sum float64, n int) {
	whole := int(math.Floor(lag))
	b := spline(lag - float64(whole))
	from := whole - int(leastLag)
	for i, crank := range s.crank {
		v := s.speed[s.first[i]+from:][:4]
		d := b[0]*v[0] + b[1]*v[1] + b[2]*v[2] + b[3]*v[3] - crank
		if d *= d; d >= 0 { // not NaN
			sum += d / (d + 0.03*0.03)
			n++
		}
	}
	return sum, n
}

// logSpeed is NaN where the bike rests or nothing is known.
func (e *evidence) logSpeed(t int) float64 {
	if t < 0 || t >= len(e.speed) || e.paused[t] || !(e.speed[t] > pedallingMPS) {
		return math.NaN()
	}
	return math.Log(e.speed[t])
}
