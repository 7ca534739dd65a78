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
func (e *evidence) lag() float64 {
	const enough = 3000
	logSpeed, logCrank := e.logs()
	pairs := make([]int, 0, len(logSpeed))
	for t := 0; t+2 < len(logCrank); t++ {
		if d := logCrank[t+2] - logCrank[t]; d != 0 && !math.IsNaN(d) {
			pairs = append(pairs, t)
		}
	}
	if len(pairs) < 60 {
		return 0
	}
	stride := 1 + len(pairs)/enough
	best, least := 0.0, math.Inf(1)
	for l := leastLag; l <= mostLag; l += lagStep {
		whole := int(math.Floor(l))
		b := spline(l - math.Floor(l))
		sum, n := 0.0, 0
		for k := 0; k < len(pairs); k += stride {
			t := pairs[k]
			i := t + whole
			if i < 1 || i+4 >= len(logSpeed) {
				continue
			}
			v := logSpeed[i-1 : i+5]
			d := b[0]*(v[2]-v[0]) + b[1]*(v[3]-v[1]) + b[2]*(v[4]-v[2]) + b[3]*(v[5]-v[3]) - (logCrank[t+2] - logCrank[t])
			if math.IsNaN(d) {
				continue
			}
			d *= d
			sum += d / (d + 0.03*0.03)
			n++
		}
		if n >= 60 && sum/float64(n) < least {
			best, least = l, sum/float64(n)
		}
	}
	return best
}

// logs returns the logarithms of speed and crank speed, NaN where the bike or
// the crank rests.
func (e *evidence) logs() (speed, crank []float64) {
	speed, crank = make([]float64, len(e.speed)), make([]float64, len(e.speed))
	for t := range speed {
		speed[t], crank[t] = math.NaN(), math.NaN()
		if e.paused[t] {
			continue
		}
		if e.speed[t] > pedallingMPS {
			speed[t] = math.Log(e.speed[t])
		}
		if e.crank[t] >= pedallingRPM {
			crank[t] = math.Log(e.crank[t])
		}
	}
	return speed, crank
}
