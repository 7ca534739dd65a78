package gears

import (
	"math"

	"cogledger/analysis/bike"
)

// Calibration hears at most this many seconds of a ride, in a few stretches:
// one half, the other half, then all of them.
const (
	heardSeconds = 4000
	heardSpans   = 8
	leastSpan    = 200
	rounds       = 3
)

// A span is the seconds from lo to before hi.
type span struct{ lo, hi int }

// heard picks the stretches for calibration, spread evenly over the ride.
func heard(seconds int) []span {
	n := heardSpans
	if seconds < n*leastSpan {
		n = 1
	}
	length := min(seconds, heardSeconds) / n
	spans := make([]span, n)
	for i := range spans {
		lo := (seconds - length) * i / max(n-1, 1)
		spans[i] = span{lo, lo + length}
	}
	return spans
}

// half returns the spans that a round of calibration hears.
func half(spans []span, round int) []span {
	if round == rounds-1 || len(spans) == 1 {
		return spans
	}
	var part []span
	for i := round % 2; i < len(spans); i += 2 {
		part = append(part, spans[i])
	}
	return part
}

// A fitting is what calibration says besides the model's own values.
type fitting struct {
	lag       float64 // s
	heard     bool    // the ride could calibrate the wheel
	deviation float64 // standard deviation of log circumference
}

// calibrate fits circumference, noise, lag, slip and the habit of shifting to
// the ride.
func (m *model) calibrate(e *evidence) fitting {
	spans := heard(len(e.speed))
	f := fitting{lag: e.lag(spans)}
	start := m.logC
	for round := range rounds {
		c := m.survey(e, f.lag, half(spans, round))
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

// survey takes the census of the driving seconds as the model sees them.
func (m *model) survey(e *evidence, lag float64, spans []span) census {
	c := census{m: m}
	for i, odds := range usualSlipOdds() { // worth half a minute of each
		c.driving[i], c.slipping[i] = 30, 30*odds
	}
	for _, s := range spans {
		c.v = e.at(lag, s.lo, s.hi)
		c.v.set(m.noise)
		c.passage.add(m.chain.Smooth(s.hi-s.lo, m.look(c.v), c.visit))
	}
	return c
}

// learn takes the model's values from a census.
func (m *model) learn(c *census) {
	m.logC += c.deviation / c.weight
	m.noise = c.fit.solve()
	m.keep = c.keep()
	m.slipOdds = c.odds()
	leave := (c.passage.Changes + 5) / (c.passage.AtRisk + 200)
	for g := range m.chain.Leave {
		m.chain.Leave[g] = leave
	}
	m.chain.RingShare = (c.passage.RingChanges + 1) / (c.passage.Changes + 20)
}

// A census is one pass's sums over the driving seconds.
type census struct {
	m *model
	v *view

	passage Passage

	driven            float64    // seconds, counted by Student weights
	weight, deviation float64    // the same over the variance, and with the deviation
	square            float64    // of the deviations, over the variance
	lagged            [2]float64 // product with the deviation one and two seconds ago
	late, steep       float64    // deviation times change of speed, and change squared, over the variance
	fit               noiseFit
	driving, slipping [powerBins]float64
}

func (c *census) visit(t int, drive, slip []float64) {
	v, m := c.v, c.m
	if v.kind[t] != turning {
		return
	}
	best, most, driven := 0, 0.0, 0.0
	for g, p := range drive {
		driven += p
		if p > most {
			best, most = g, p
		}
	}
	c.driving[v.power[t]] += driven
	c.slipping[v.power[t]] += 1 - driven
	if most < 0.7 {
		return
	}
	sure := float64(v.sure[t])
	x := float64(v.logDev[t]) - m.logC - m.logRatio[best]
	z := x * sure
	if z*z > 20 {
		return
	}
	k := most * 6 / (5 + z*z) // Student weight
	c.driven += k
	c.weight += k * sure * sure
	c.deviation += k * x * sure * sure
	change := float64(v.change[t])
	c.fit.add(k*x*x-float64(v.round[t]), float64(v.slow[t]), change*change, sure, most)
	c.late += k * x * change * sure * sure
	c.steep += k * change * change * sure * sure
	c.square += most * z * z
	for k := range c.lagged {
		i := t - k - 1
		if i < 0 || v.kind[i] < starting {
			break
		}
		was := (float64(v.logDev[i]) - m.logC - m.logRatio[best]) * sure
		if was*was > 20 {
			break // another gear
		}
		c.lagged[k] += most * z * was
	}
}

// keep is the correlation of a first-order process that forgets as slowly, all
// in all, as the deviations do. They are a wandering part and a fresh one: the
// second correlation over the first tells how long the wandering part lasts.
func (c *census) keep() float64 {
	r1, r2 := c.lagged[0]/c.square, c.lagged[1]/c.square
	if !(r1 > 0.02) {
		return 0
	}
	wander := min(max(r2/r1, r1), 0.9)
	sum := 1 + 2*r1/(1-wander)
	return min((sum-1)/(sum+1), 0.9)
}

// lag is by how much the lag should grow: where speed rises, a lag taken too
// short shows as development too small.
func (c *census) lag() float64 {
	const doubt = 1.5 // s, of the lag before the ride is heard
	return -c.late / (c.steep + 1/(doubt*doubt))
}

// odds are how much likelier each bin of power is while slipping. Where power
// is not known it says nothing.
func (c *census) odds() (odds [powerBins]float64) {
	const most = 30 // readings trail: no power proves anything
	var d, s float64
	for i := 1; i < powerBins; i++ {
		d += c.driving[i]
		s += c.slipping[i]
	}
	odds[0] = 1
	for i := 1; i < powerBins; i++ {
		odds[i] = min(max(c.slipping[i]/s/(c.driving[i]/d), 1.0/most), most)
	}
	return odds
}
