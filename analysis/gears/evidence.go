package gears

import (
	"fmt"
	"math"

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

// gather takes what the ride tells, in the memory given.
func gather(r *ride.Ride, drive bike.Drive, memory *bump[float64]) (evidence, []ride.Note) {
	e := evidence{
		speed:  release(r.Column(ride.Speed), memory),
		legs:   r.Column(ride.CadenceRPM),
		power:  r.Column(ride.RiderPower),
		paused: make([]bool, r.Len()),
	}
	for i := range e.paused {
		e.paused[i] = r.Paused(i)
	}
	e.crank = e.legs
	if drive.Kind != bike.Mid {
		return e, nil
	}
	if e.motor = r.Column(ride.MotorPower); e.motor == nil {
		e.motor = electrical(r, memory)
	}
	rpm := r.Column(ride.MotorRPM)
	if rpm == nil || !(drive.TurnsPerCrank > 0) {
		return e, nil
	}
	if ratio, ok := turnsAgree(e.legs, rpm, drive.TurnsPerCrank); !ok {
		return e, []ride.Note{{
			Text: fmt.Sprintf("the motor is logged turning %.1f times a crank turn, not %.4g as in the profile: its speed is not used to tell the gear", ratio, drive.TurnsPerCrank),
			Cure: "check turns_per_crank under drive",
		}}
	}
	e.chainring(rpm, drive.TurnsPerCrank, memory)
	return e, nil
}

// electrical is the power into the drive where its output is not logged, nil
// where neither is. It tells well enough whether the motor pushes.
func electrical(r *ride.Ride, memory *bump[float64]) []float64 {
	volts, amps := r.Column(ride.BatteryVolts), r.Column(ride.BatteryAmps)
	if volts == nil || amps == nil {
		return nil
	}
	const rest = 10 // W of the controller and the lights
	power := memory.take(len(volts))
	for i := range power {
		power[i] = volts[i]*amps[i] - rest
	}
	return power
}

// turnsAgree compares motor and crank where both turn. A motor that rests or
// leads is far from the crank; most of the time they turn as one.
func turnsAgree(crank, motorRPM []float64, turns float64) (logged float64, ok bool) {
	const tolerance, enough, plenty = 0.02, 60, 400
	every := max(len(crank)/plenty, 1)
	var ratios []float64
	for i := 0; i < len(crank); i += every {
		if q := motorRPM[i] / crank[i]; crank[i] >= 40 && q > 0.7*turns && q < 1.4*turns {
			ratios = append(ratios, q)
		}
	}
	if len(ratios) < enough {
		return turns, true
	}
	logged = middle(ratios)
	return logged, math.Abs(logged/turns-1) < tolerance
}

// release straightens speeds that a device holds for some seconds before it
// shows the next: from each new value to the one after it. Where speed truly
// stands still the two are alike and nothing changes.
func release(held []float64, memory *bump[float64]) []float64 {
	const longest = 6 // s
	if held == nil {
		return nil
	}
	speed := memory.take(len(held))
	copy(speed, held)
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
func (e *evidence) chainring(motorRPM []float64, turns float64, memory *bump[float64]) {
	e.crank, e.step = memory.take(len(motorRPM)), memory.take(len(motorRPM))
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
