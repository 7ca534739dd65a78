package gears

import (
	"math"

	"cogledger/analysis/bike"
)

// Calibration hears a ride in a few stretches: one half of them, the other half,
// then all; where it may hear little, the first half again. Rounds tell more than
// seconds do.
const (
	heardSpans = 8
	leastSpan  = 75   // s
	shortRide  = 1600 // s, heard in one piece
	little     = 1000 // s
)

// A span is the seconds from lo to before hi.
type span struct{ lo, hi int }

// heard picks the stretches for calibration, spread evenly over the ride and no
// more than most seconds of it.
func heard(seconds, most int) []span {
	if most == 0 {
		most = DefaultCalibrationSeconds
	}
	n := min(heardSpans, max(most/leastSpan, 1))
	if seconds <= most && seconds < shortRide {
		n = 1
	}
	length := min(seconds, most) / n
	spans := make([]span, n)
	for i := range spans {
		lo := (seconds - length) * i / max(n-1, 1)
		spans[i] = span{lo, lo + length}
	}
	return spans
}

// rounds lists the spans that each round of calibration hears.
func rounds(spans []span) [][]span {
	if len(spans) == 1 {
		return [][]span{spans, spans, spans}
	}
	var half [2][]span
	seconds := 0
	for i, s := range spans {
		half[i%2] = append(half[i%2], s)
		seconds += s.hi - s.lo
	}
	if seconds <= little {
		return [][]span{half[0], half[1], half[0]}
	}
	return [][]span{half[0], half[1], spans}
}

// A fitting is what calibration says besides the model's own values.
type fitting struct {
	lag       float64 // s
	heard     bool    // the ride could calibrate the wheel
	deviation float64 // standard deviation of log circumference
}

// calibrate fits circumference, noise, lag, slip and the habit of shifting to
// the ride.
func (m *model) calibrate(e *evidence, most int) fitting {
	spans := heard(len(e.speed), most)
	f := fitting{lag: e.lag(spans)}
	start := m.logC
	for _, part := range rounds(spans) {
		c := m.survey(e, f.lag, part)
		if c.driven < leastHeard {
			continue
		}
		m.learn(&c)
		low, high := start-bike.TyreSpread, start+bike.TyreSpread
		f.heard = true
		m.logC = min(max(m.logC, low), high)
		// Deviations that last count as fewer, and teeth are not cut to a hair.
		f.deviation = math.Sqrt((1+m.keep)/(1-m.keep)/c.weight + leastDeviation*leastDeviation)
		f.lag = min(max(f.lag+c.lag(), leastLag), mostLag)
	}
	return f
}

// leastHeard is how many seconds of driving can calibrate anything.
const leastHeard = 60

// leastDeviation is how well a ride can tell a circumference at best: a tyre
// warms up and leans.
const leastDeviation = 0.001

func (f *fitting) report(to *Inference, m *model) {
	to.LagSeconds = f.lag
	to.CircumferenceFromRide = f.heard
	if !f.heard {
		return
	}
	const ninety = 1.6449 // of the normal distribution's middle
	to.Circumference = math.Exp(m.logC)
	to.CircumferenceLow = math.Exp(m.logC - ninety*f.deviation)
	to.CircumferenceHigh = math.Exp(m.logC + ninety*f.deviation)
}

// spread is the root mean square deviation that the noise stands for, rounding
// included, over the turning seconds.
func (v *view) spread(m *model) float64 {
	sum, n := 0.0, 0
	for t, k := range v.kind {
		if k == turning {
			sum += 1 / float64(v.sure[t]*v.sure[t])
			n++
		}
	}
	if n == 0 {
		return math.Sqrt(m.noise.base)
	}
	return math.Sqrt(sum / float64(n))
}
