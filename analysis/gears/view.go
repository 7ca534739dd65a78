package gears

import "math"

// A kind is what a second can tell.
type kind uint8

const (
	blind    kind = iota // nothing
	standing             // the bike stands
	coasting             // rolling, cranks at rest or nearly so
	starting             // the first seconds after that, cadence not yet trusted
	turning              // rolling with turning cranks
)

// A view is the evidence of a stretch of the ride at one lag between speed and
// cadence, as the chain needs it.
type view struct {
	kind   []kind
	power  []uint8   // bin of the rider's power
	motor  []bool    // the motor pushes through the chain
	logDev []float32 // log of metres a crank turn
	round  []float32 // variance of logDev from the rounding of cadence
	slow   []float32 // 1/speed^2, s2/m2
	change []float32 // change of log speed a second
	sure   []float32 // 1 over the standard deviation of logDev, by the noise last set
	told   []told    // by the bike's own reports; nil when they are no evidence
}

// size makes n seconds of nothing, in the memory that is there where it is
// enough.
func (v *view) size(n int) {
	v.told = nil
	if cap(v.kind) < n {
		*v = view{
			kind: make([]kind, n), power: make([]uint8, n), motor: make([]bool, n), logDev: make([]float32, n),
			round: make([]float32, n), slow: make([]float32, n), change: make([]float32, n), sure: make([]float32, n),
		}
		return
	}
	*v = *v.part(span{0, n})
	clear(v.kind)
	clear(v.power)
	clear(v.motor)
	clear(v.change)
}

// at makes v the view of seconds lo to hi at a lag of speed behind cadence.
func (e *evidence) at(v *view, lag float64, lo, hi int) *view {
	v.size(hi - lo)
	turned := 0 // turning seconds in a row
	whole := int(math.Floor(lag))
	weights := spline(lag - float64(whole))
	before, now := math.NaN(), e.speedAt(lo, whole, &weights)
	for t := lo; t < hi; t++ {
		after := e.speedAt(t+1, whole, &weights)
		k := classify(now, e.crank[t], e.paused[t])
		if e.missed(t) {
			k = blind
		} else if k != turning {
			turned = 0
		} else if turned++; turned <= 2 {
			k = starting
		}
		v.kind[t-lo] = k
		if k >= starting {
			v.turn(e, t, t-lo, now, (after-before)/(2*now))
		}
		before, now = now, after
	}
	v.fade(e.crank[lo:hi])
	return v
}

// part is a stretch of the view.
func (v *view) part(s span) *view {
	return &view{
		kind: v.kind[s.lo:s.hi], power: v.power[s.lo:s.hi], motor: v.motor[s.lo:s.hi],
		logDev: v.logDev[s.lo:s.hi], round: v.round[s.lo:s.hi], slow: v.slow[s.lo:s.hi],
		change: v.change[s.lo:s.hi], sure: v.sure[s.lo:s.hi],
	}
}

// missed tells whether the cadence of a second is a pulse that the sensor
// missed: legs do not halt and go on as before within two seconds.
func (e *evidence) missed(t int) bool {
	if t < 1 || t+1 >= len(e.crank) {
		return false
	}
	before, now, after := e.crank[t-1], e.crank[t], e.crank[t+1]
	return before >= pedallingRPM && now < 0.75*min(before, after) && math.Abs(after-before) < 0.1*before
}

// turn fills in a second t of turning cranks as number i.
func (v *view) turn(e *evidence, t, i int, speed, rise float64) {
	c := e.crank[t]
	v.logDev[i] = float32(math.Log(speed * 60 / c))
	step := 1.0
	if e.step != nil {
		step = e.step[t]
	}
	v.round[i] = float32(step * step / (12 * c * c))
	v.slow[i] = float32(1 / (speed * speed))
	if !math.IsNaN(rise) {
		v.change[i] = float32(clip(rise, 1))
	}
	v.motor[i] = e.motor != nil && e.motor[t] > 15
	if !v.motor[i] || step == 1 { // else the motor turns the ring, whatever the legs do
		v.power[i] = powerBin(e.power, t)
	}
}

// tells reports whether any second shows development.
func (v *view) tells() bool {
	for _, k := range v.kind {
		if k >= starting {
			return true
		}
	}
	return false
}

func classify(speed, crank float64, paused bool) kind {
	switch {
	case paused || !(math.Abs(speed) < mostMPS) || !(math.Abs(crank) < mostRPM):
		return blind
	case speed < bikeRestMPS:
		return standing
	case crank < crankRestRPM:
		return coasting
	}
	return turning
}

// speedAt is the speed that the bike had at second t, as logged a lag later,
// which is whole seconds and what the weights of a spline make of the rest; as
// logged at t where the later values are missing; NaN outside the ride.
//
// It is a cubic B-spline over the logged values. The spline smooths about as
// much at a whole second as between two, so that noise does not pull the lag
// towards the half seconds, as a straight line between values would.
func (e *evidence) speedAt(t, whole int, b *[4]float64) float64 {
	if t < 0 || t >= len(e.speed) {
		return math.NaN()
	}
	i := t + whole
	if i < 1 || i+2 >= len(e.speed) || e.paused[i] || e.paused[i+1] {
		return e.speed[t]
	}
	s := b[0]*e.speed[i-1] + b[1]*e.speed[i] + b[2]*e.speed[i+1] + b[3]*e.speed[i+2]
	if math.IsNaN(s) {
		return e.speed[t]
	}
	return s
}

// spline returns the weights of a cubic B-spline a part of the way from its
// second to its third value.
func spline(part float64) [4]float64 {
	rest := 1 - part
	return [4]float64{
		rest * rest * rest / 6,
		(4 - 3*part*part*(2-part)) / 6,
		(4 - 3*rest*rest*(2-rest)) / 6,
		part * part * part / 6,
	}
}

// fade takes care of the seconds in which a device may only repeat its last
// cadence before it notices that the cranks stand. Without power of the rider
// they are blind; where power is not known they count as little as a start.
func (v *view) fade(crank []float64) {
	const longest = 4
	for t := 1; t < len(v.kind); t++ {
		if v.kind[t] != coasting || v.kind[t-1] < starting {
			continue
		}
		for k := 1; k <= longest && t-k-1 >= 0 && crank[t-k] == crank[t-k-1]; k++ {
			switch power := v.power[t-k]; {
			case power == 0:
				v.kind[t-k] = starting
			case power <= 2:
				v.kind[t-k] = coasting
			}
		}
	}
}

// powerBin sorts the rider's power by what it says of a slipping crank; 0 is
// no power known.
func powerBin(power []float64, t int) uint8 {
	if power == nil || math.IsNaN(power[t]) {
		return 0
	}
	for i, edge := range [powerBins - 2]float64{5, 15, 30, 50, 80} {
		if power[t] <= edge {
			return uint8(i + 1)
		}
	}
	return powerBins - 1
}

const powerBins = 7
