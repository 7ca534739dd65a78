package drive

import "math"

// A second is what the log tells of one second, ready to be solved.
type second struct {
	speed       float64 // m/s of the bike, NaN unknown
	motorSpeed  float64 // rad/s if the motor pushed, NaN unknown
	cadence     float64 // rpm, NaN unknown
	legs        float64 // W as known, NaN unknown
	pull        float64 // W of the legs as used for the chain, never NaN
	openCircuit float64
	terminal    float64 // W, logged; NaN otherwise
	volts, amps float64 // logged; NaN otherwise
	shaft       float64 // W asked of the motor where terminal is not logged
	chain       chain
	clutch      bool // the motor rests unless it pushes
	free        bool // shaft is what the motor would give if its limits let it
}

// look gathers second i.
func (x *run) look(i int, q *second) {
	*q = second{
		speed: x.rd.Speed[i], cadence: math.NaN(), openCircuit: x.unit.OpenCircuitV,
		terminal: math.NaN(), volts: math.NaN(), amps: math.NaN(), shaft: math.NaN(), clutch: x.unit.Clutch,
	}
	if x.cadence != nil {
		q.cadence = x.cadence[i]
	}
	q.legs = x.legsAt(i, q.cadence)
	q.pull = q.legs
	if math.IsNaN(q.pull) {
		q.pull = 0
		if q.cadence >= turning {
			q.pull = x.assumedLegs
		}
	}
	gear := x.inf.Best[i]
	if gear < 0 {
		gear = x.middle
	}
	link := &x.links[gear]
	if speed := q.speed; speed > 0 {
		q.chain = link.at(speed)
	} else {
		q.chain = link.chain
	}
	q.motorSpeed = x.motorSpeed(i, q)
	switch x.s.Knowledge {
	case FromBattery:
		q.amps = x.amps[i] * x.sensors.BatteryAmps
		if x.volts != nil {
			q.volts = x.volts[i] * x.sensors.BatteryVolts
			q.openCircuit = q.volts + q.amps*x.unit.BatteryOhm
		} else {
			q.volts = q.openCircuit - q.amps*x.unit.BatteryOhm
		}
		q.terminal = q.volts * q.amps
	case FromMotorPower:
		q.shaft = x.motor[i] * x.sensors.MotorPower / x.unit.Reduction
	case FromRoad:
		q.shaft, q.free = x.asked(i, q), true
	}
}

// legsAt is the rider's power: as logged, else the profile's assumption while
// the crank turns.
func (x *run) legsAt(i int, cadence float64) float64 {
	switch {
	case x.legs != nil:
		return x.legs[i] * x.sensors.RiderPower
	case cadence >= turning:
		return x.assumedLegs
	case math.IsNaN(cadence):
		return math.NaN()
	}
	return 0
}

// motorSpeed is the logged one where there is one; else, with the chain
// pulling, it follows from wheel and gear, which is finer than whole rpm of
// cadence; else from the crank.
func (x *run) motorSpeed(i int, q *second) float64 {
	if x.rpm != nil && !math.IsNaN(x.rpm[i]) {
		return math.Abs(x.rpm[i]) * 2 * math.Pi / 60
	}
	gear := x.inf.Index[i]
	if x.unit.hub {
		return q.speed * x.links[x.middle].motorSpeed
	}
	late := min(max(0, i+x.lag), len(x.rd.Speed)-1)
	speed := x.rd.Speed[late]
	if math.IsNaN(speed) {
		speed = q.speed
	}
	byWheel := math.NaN()
	if gear >= 0 {
		byWheel = speed * x.links[gear].motorSpeed
	}
	switch {
	case x.inf.Coupled[i] >= coupled && byWheel >= 0:
		return byWheel
	case q.cadence >= turning:
		return x.unit.SpeedAtCadence(q.cadence)
	}
	return byWheel
}

// asked is the shaft power that the road asks of the motor beyond the rider's.
func (x *run) asked(i int, q *second) float64 {
	if x.assist != nil && x.assist[i] == 0 {
		return 0
	}
	if q.cadence < turning || q.speed >= x.unit.Cutoff+fadeMPS {
		return 0
	}
	if math.IsNaN(q.cadence) || math.IsNaN(q.legs) {
		return math.NaN()
	}
	// Logged speed trails the crank: what the road asks now shows in it later.
	wheel := ahead(x.rd.Demand, i, x.inf.LagSeconds) + x.rd.WindMean(i)
	if wheel <= 0 {
		return 0
	}
	need := q.chain.in(wheel) - q.legs
	if x.unit.hub {
		need = wheel - q.chain.out(q.legs)
	}
	fade := clamp((x.unit.Cutoff+fadeMPS-q.speed)/fadeMPS, 0, 1)
	return max(0, need) * fade / x.unit.Reduction
}

// solve finds the working point at a winding temperature. known is false where
// the log cannot tell how the motor's power splits; what it can tell of the
// battery is then in the point, NaN elsewhere. Of a battery's logged power the
// point still lacks the battery's side.
func (q *second) solve(u *Unit, windingC float64) (pt Point, known bool) {
	if !math.IsNaN(q.terminal) {
		return q.solveBattery(u, windingC)
	}
	switch {
	case math.IsNaN(q.shaft):
		return unknownPoint(), false
	case q.shaft < idleW && (q.clutch || !(q.motorSpeed > 0)):
		return u.Off(u.Fixed, q.openCircuit), true
	case q.shaft < idleW:
		return u.AtAmps(q.motorSpeed, 0, windingC, q.openCircuit), true // dragged along
	case !(q.motorSpeed > 0):
		return unknownPoint(), false
	}
	speed := q.motorSpeed
	if !q.free {
		// A logged power at a logged speed that is still near zero: the speed
		// lags, since no controller lets the current grow without bound.
		speed = max(speed, u.slowest(q.shaft))
	}
	pt = u.AtShaft(speed, q.shaft, windingC, q.openCircuit)
	if q.free && pt.Limit != NoLimit {
		if most := u.Most(q.motorSpeed, windingC, q.openCircuit); most.Shaft >= idleW {
			return most, true
		}
		return u.Off(u.Fixed, q.openCircuit), true
	}
	return pt, true
}

func (q *second) solveBattery(u *Unit, windingC float64) (pt Point, known bool) {
	small := math.Abs(q.terminal) < u.Fixed+loadedW
	if q.clutch && small || q.terminal == 0 {
		return off(q.terminal), true
	}
	speed := q.motorSpeed
	if math.IsNaN(speed) {
		if small {
			return off(q.terminal), true
		}
		return q.unsplit(u), false
	}
	u.turn(&pt, speed, u.AmpsAtTerminal(speed, q.terminal, windingC), windingC)
	if q.clutch && pt.Shaft < 0 && q.terminal >= 0 && speed > 0 {
		// Too little to turn the motor at the chainring's speed: it spins idle
		// behind its clutch, and its own drag takes the power.
		return off(q.terminal), true
	}
	if math.Abs(pt.Terminal-q.terminal) > 1e-6*(1+math.Abs(q.terminal)) {
		return q.unsplit(u), false // charging more than the motor could give at this speed
	}
	return pt, true
}

// unsplit is the battery's side alone.
func (q *second) unsplit(u *Unit) Point {
	pt := unknownPoint()
	pt.Terminal, pt.BatteryVolts, pt.BatteryAmps = q.terminal, q.volts, q.amps
	pt.BatteryHeat = q.amps * q.amps * u.BatteryOhm
	return pt
}

func unknownPoint() Point {
	nan := math.NaN()
	return Point{
		Speed: nan, Amps: nan, Shaft: nan, Copper: nan, Drag: nan, Controller: nan, Terminal: nan,
		MotorVolts: nan, BatteryVolts: nan, BatteryAmps: nan, BatteryHeat: nan,
	}
}

// pedalling tells whether the crank turns; known is false where no channel says.
func (q *second) pedalling() (yes, known bool) {
	if !math.IsNaN(q.cadence) {
		return q.cadence >= turning, true
	}
	if q.legs > 0 {
		return true, true
	}
	return false, false
}

// logged reports whether the motor's own speed is in the log.
func (x *run) logged(i int) bool { return x.rpm != nil && !math.IsNaN(x.rpm[i]) }
