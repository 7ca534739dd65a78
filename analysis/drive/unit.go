package drive

import (
	"math"

	"cogledger/analysis/bike"
)

// ReferenceC is the winding temperature in °C at which a profile states the
// motor's resistance.
const ReferenceC = 25

// copperZeroC is the temperature below zero, in °C, at which the resistance of
// annealed copper would vanish if its slope held: R2/R1 = (234.5 + T2)/(234.5 +
// T1), IEC 60034-1. At 25 °C that is 0.00385 per kelvin; the familiar 0.00393
// counts from 20 °C.
const copperZeroC = 234.5

// A Unit is one drive as numbers: motor, controller, battery and the way to
// the wheel. It is a small value; copy it to change one number.
//
// The motor is the equivalent direct-current machine at speed w (rad/s) and
// current I (A), both positive while it pushes:
//
//	torque  = K I - (Coulomb + Viscous w)
//	volts   = K w + R(T) I,  R(T) = R25 (234.5 + T)/(234.5 + 25)
//	battery = volts I + Fixed + Volt |I| + Ohm I²
//
// A negative current brakes and charges. Speeds are never negative: a drive
// does not push backwards.
type Unit struct {
	K       float64 // torque constant, Nm/A, which is the voltage constant in V s/rad
	R25     float64 // ohm between the terminals of the equivalent machine at ReferenceC
	Coulomb float64 // Nm of drag at any speed
	Viscous float64 // Nm s/rad of drag that grows with speed

	Fixed float64 // W the controller draws whenever it is on
	Volt  float64 // V, controller loss per ampere of motor current
	Ohm   float64 // controller loss per square ampere

	PhaseLimit   float64 // A of motor current
	BatteryLimit float64 // A of battery current
	BatteryOhm   float64
	OpenCircuitV float64 // V of the battery at rest, where the log does not tell: the nominal voltage

	Reduction float64 // efficiency of the gears between motor and chainring, or motor and wheel
	Clutch    bool    // a freewheel lets the motor stand while the bike rolls; false in a direct hub
	Cutoff    float64 // m/s at which assistance ends
	ChainLoss float64 // factor on the loss of a clean, oiled chain

	hub           bool
	turns         float64 // motor turns a chainring turn, in a hub drive a wheel turn
	circumference float64 // m
}

// NewUnit reads the drive of a checked profile.
func NewUnit(p *bike.Profile) Unit {
	u := Unit{
		K: p.Motor.TorqueConstant, R25: p.Motor.ResistanceOhm,
		Coulomb: p.Motor.CoulombTorque, Viscous: p.Motor.Viscous,
		Fixed: p.Controller.FixedW, Volt: p.Controller.Volt, Ohm: p.Controller.Ohm,
		PhaseLimit: p.Motor.PhaseCurrentLimit, BatteryLimit: p.Controller.BatteryCurrentLimit,
		BatteryOhm: p.Battery.ResistanceOhm, OpenCircuitV: p.Battery.NominalV,
		Reduction: p.ReductionEfficiency, Clutch: true,
		Cutoff: p.Assist.CutoffKmh / 3.6, ChainLoss: p.ChainLossFactor,
		turns: p.Drive.TurnsPerCrank, circumference: p.Circumference(),
	}
	if u.ChainLoss == 0 { // a profile built without defaults
		u.ChainLoss = 1
	}
	if p.Drive.Kind == bike.Hub {
		u.hub, u.turns = true, p.Drive.TurnsPerWheel
		u.Clutch = u.turns > 1
	}
	return u
}

// Rolling returns the unit on a wheel of another circumference in metres, as
// calibrated by a ride.
func (u Unit) Rolling(circumference float64) Unit {
	if circumference > 0 {
		u.circumference = circumference
	}
	return u
}

// Hub reports whether the motor turns the wheel past the gears.
func (u Unit) Hub() bool { return u.hub }

// Resistance of the winding in ohm at a temperature in °C.
func (u *Unit) Resistance(windingC float64) float64 {
	return u.R25 * (copperZeroC + windingC) / (copperZeroC + ReferenceC)
}

// WindingC is the winding's temperature in °C at which it has a resistance in
// ohm: the inverse of Resistance.
func (u Unit) WindingC(ohm float64) float64 {
	return ohm/u.R25*(copperZeroC+ReferenceC) - copperZeroC
}

// MotorSpeed is the motor's speed in rad/s with the bike at wheelMPS in gear g
// and the chain pulling. A hub drive turns with the wheel whatever the gear.
func (u Unit) MotorSpeed(wheelMPS float64, g bike.Gear) float64 {
	return wheelMPS * u.speedPerMPS(g)
}

func (u Unit) speedPerMPS(g bike.Gear) float64 {
	perWheelTurn := u.turns
	if !u.hub {
		perWheelTurn /= g.Ratio
	}
	return 2 * math.Pi * perWheelTurn / u.circumference
}

// SpeedAtCadence is the motor's speed in rad/s with the crank at a cadence in
// rpm and the chain pulling; NaN in a hub drive, which does not tell.
func (u Unit) SpeedAtCadence(rpm float64) float64 {
	if u.hub {
		return math.NaN()
	}
	return rpm / 60 * 2 * math.Pi * u.turns
}

// CadenceRPM is the crank's speed with the bike at wheelMPS in gear g and the
// chain pulling.
func (u Unit) CadenceRPM(wheelMPS float64, g bike.Gear) float64 {
	return 60 * wheelMPS / (u.circumference * g.Ratio)
}
