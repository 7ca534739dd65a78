package gears

import (
	"math"

	"cogledger/analysis/bike"
	"cogledger/ingest/ride"
)

// Pedalling seconds are those in which a gear could be told at all.
const (
	pedallingRPM = 25.0
	pedallingMPS = 0.8
)

// evidence is what the ride's columns say of the gear, one value a second.
type evidence struct {
	speed   []float64 // m/s, as logged
	crank   []float64 // turns a minute of the chainring, by cadence or by a logged motor speed
	fineRPM []float64 // rounding step of crank, rpm; nil when always 1
	power   []float64 // W of the rider, nil where not logged
	motor   []float64 // W of the motor through the chain, nil where not logged or at the hub
	paused  []bool
}

func gather(r *ride.Ride, p *bike.Profile) evidence {
	e := evidence{
		speed: r.Column(ride.Speed),
		crank: r.Column(ride.CadenceRPM),
		power: r.Column(ride.RiderPower),
	}
	e.paused = make([]bool, r.Len())
	for i := range e.paused {
		e.paused[i] = r.Paused(i)
	}
	if p.Drive.Kind != bike.Mid {
		return e
	}
	e.motor = r.Column(ride.MotorPower)
	if rpm := r.Column(ride.MotorRPM); rpm != nil && p.Drive.TurnsPerCrank > 0 {
		e.chainring(rpm, p.Drive.TurnsPerCrank)
	}
	return e
}

// chainring merges cadence and motor speed. Both drive the chainring through
// one-way clutches, so it turns with the faster of the two; the motor's speed
// is far finer than a whole turn a minute of the crank.
func (e *evidence) chainring(motorRPM []float64, turns float64) {
	crank := make([]float64, len(motorRPM))
	fine := make([]float64, len(motorRPM))
	for i, m := range motorRPM {
		crank[i], fine[i] = math.NaN(), 1
		if e.crank != nil {
			crank[i] = e.crank[i]
		}
		if m /= turns; m > 0 && !(crank[i] > 1.04*m+1) {
			crank[i], fine[i] = m, 1/turns
		}
	}
	e.crank, e.fineRPM = crank, fine
}

// usable tells whether the ride has what an inference needs.
func (e *evidence) usable() bool { return e.speed != nil && e.crank != nil }

func (e *evidence) pedalling(t int) bool {
	return !e.paused[t] && e.crank[t] >= pedallingRPM && e.speed[t] > pedallingMPS
}

// A view is the evidence at one lag between speed and cadence, as the chain
// needs it.
type view struct {
	kind   []kind
	logDev []float32 // log of metres a crank turn
	logTol []float32 // variance of logDev from rounding alone
	slip   []float32 // likelihood of the powers while slipping over that while driving
}

// kind is what a second can tell.
type kind uint8

const (
	blind    kind = iota // nothing
	standing             // the bike stands
	coasting             // rolling, cranks at rest or nearly so
	turning              // rolling with turning cranks
)

// at returns the view at a lag of whole and fractional seconds.
func (e *evidence) at(lag float64) view {
	n := len(e.speed)
	v := view{make([]kind, n), make([]float32, n), make([]float32, n), make([]float32, n)}
	whole := int(math.Floor(lag))
	part := lag - float64(whole)
	for t := range n {
		v.slip[t] = 1
		if e.paused[t] {
			continue
		}
		s := e.speed[t]
		if i := t + whole; i+1 < n && !e.paused[i] && !e.paused[i+1] {
			if later := e.speed[i]*(1-part) + e.speed[i+1]*part; !math.IsNaN(later) {
				s = later
			}
		}
		c := e.crank[t]
		switch {
		case math.IsNaN(s) || math.IsNaN(c):
			continue
		case s < 0.5:
			v.kind[t] = standing
			continue
		case c < 15:
			v.kind[t] = coasting
			continue
		}
		v.kind[t] = turning
		v.logDev[t] = float32(math.Log(s * 60 / c))
		step := 1.0
		if e.fineRPM != nil {
			step = e.fineRPM[t]
		}
		v.logTol[t] = float32(step * step / (12 * c * c))
		v.slip[t] = float32(e.slipOdds(t))
	}
	return v
}

// slipOdds is how much likelier the logged powers are while the crank slips
// than while it drives. A crank without torque cannot drive; readings trail by
// a second or two, so neither case is ever ruled out.
func (e *evidence) slipOdds(t int) float64 {
	odds := 1.0
	if e.power != nil && !math.IsNaN(e.power[t]) {
		odds = math.Exp(1.8 - min(max(e.power[t], 0), 60)*0.095)
	}
	if e.motor != nil && e.motor[t] > 15 {
		odds *= 0.3
	}
	return odds
}
