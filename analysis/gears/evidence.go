package gears

import (
	"math"
	"slices"

	"cogledger/analysis/bike"
	"cogledger/ingest/ride"
)

// Pedalling seconds are those in which a gear could be told at all.
const (
	pedallingRPM = 25.0
	pedallingMPS = 0.8
)

// Below these the cranks and the bike count as at rest.
const (
	crankRestRPM = 15.0
	bikeRestMPS  = 0.5
)

// What lies beyond these is no reading.
const (
	mostRPM = 300.0
	mostMPS = 60.0
)

// evidence is what the ride's columns say of the gear, one value a second.
type evidence struct {
	speed   []float64 // m/s, as logged
	legs    []float64 // cadence as logged, rpm; nil where not
	crank   []float64 // turns a minute of the chainring, by cadence or by a logged motor speed
	byMotor bool      // crank is mostly told by the motor
	step    []float64 // rounding step of crank in rpm; nil when it is 1 throughout
	power   []float64 // W of the rider, nil where not logged
	motor   []float64 // W of the motor through the chain, nil where not logged or at the hub
	paused  []bool
}

func gather(r *ride.Ride, drive bike.Drive) evidence {
	e := evidence{
		speed:  release(r.Column(ride.Speed)),
		legs:   r.Column(ride.CadenceRPM),
		power:  r.Column(ride.RiderPower),
		paused: make([]bool, r.Len()),
	}
	for i := range e.paused {
		e.paused[i] = r.Paused(i)
	}
	e.crank = e.legs
	if drive.Kind != bike.Mid {
		return e
	}
	e.motor = r.Column(ride.MotorPower)
	if rpm := r.Column(ride.MotorRPM); rpm != nil && drive.TurnsPerCrank > 0 {
		e.chainring(rpm, drive.TurnsPerCrank)
	}
	return e
}

// release straightens speeds that a device holds for some seconds before it
// shows the next: from each new value to the one after it. Where speed truly
// stands still the two are alike and nothing changes.
func release(held []float64) []float64 {
	const longest = 6 // s
	if held == nil {
		return nil
	}
	speed := slices.Clone(held)
	from := 0
	for t := 1; t < len(held); t++ {
		if held[t] == held[from] {
			continue
		}
		if n := t - from; n > 1 && n <= longest && held[from] > pedallingMPS && held[t] > pedallingMPS {
			for k := 1; k < n; k++ {
				speed[from+k] += (held[t] - held[from]) * float64(k) / float64(n)
			}
		}
		from = t
	}
	return speed
}

// chainring merges cadence and motor speed. Both drive the chainring through
// one-way clutches, so it turns with the faster of the two; the motor's speed
// is far finer than a whole turn a minute of the crank.
func (e *evidence) chainring(motorRPM []float64, turns float64) {
	e.crank, e.step = make([]float64, len(motorRPM)), make([]float64, len(motorRPM))
	told, turning := 0, 0
	for i, m := range motorRPM {
		e.crank[i], e.step[i] = math.NaN(), 1
		if e.legs != nil {
			e.crank[i] = e.legs[i]
		}
		if m /= turns; m > 0 && !(e.crank[i] > 1.04*m+1) {
			e.crank[i], e.step[i] = m, 1/turns
			told++
		}
		if e.crank[i] >= pedallingRPM {
			turning++
		}
	}
	e.byMotor = 2*told > turning
}

// usable tells whether the ride has what an inference needs.
func (e *evidence) usable() bool { return e.speed != nil && e.crank != nil }

// pedalling tells whether legs turn the cranks while the bike rolls; where
// cadence is not logged, whether the motor turns the chainring.
func (e *evidence) pedalling(t int) bool {
	turns := e.legs
	if turns == nil {
		turns = e.crank
	}
	return !e.paused[t] && turns[t] >= pedallingRPM && e.speed[t] > pedallingMPS
}

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

// at returns the view of seconds lo to hi at a lag of speed behind cadence.
func (e *evidence) at(lag float64, lo, hi int) *view {
	n := hi - lo
	floats := make([]float32, 5*n)
	v := &view{
		kind: make([]kind, n), power: make([]uint8, n), motor: make([]bool, n),
		logDev: floats[:n], round: floats[n : 2*n], slow: floats[2*n : 3*n], change: floats[3*n : 4*n], sure: floats[4*n:],
	}
	turned := 0 // turning seconds in a row
	before, now := math.NaN(), e.speedAt(lo, lag)
	for t := lo; t < hi; t++ {
		after := e.speedAt(t+1, lag)
		k := classify(now, e.crank[t], e.paused[t])
		if k != turning {
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
	v.power[i] = powerBin(e.power, t)
	v.motor[i] = e.motor != nil && e.motor[t] > 15
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

// speedAt is the speed that the bike had at second t, as logged a lag later;
// as logged at t where the later values are missing; NaN outside the ride.
//
// It is a cubic B-spline over the logged values. The spline smooths about as
// much at a whole second as between two, so that noise does not pull the lag
// towards the half seconds, as a straight line between values would.
func (e *evidence) speedAt(t int, lag float64) float64 {
	if t < 0 || t >= len(e.speed) {
		return math.NaN()
	}
	whole := int(math.Floor(lag))
	i := t + whole
	if i < 1 || i+2 >= len(e.speed) || e.paused[i] || e.paused[i+1] {
		return e.speed[t]
	}
	b := spline(lag - float64(whole))
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
