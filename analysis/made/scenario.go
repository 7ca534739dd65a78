package made

import "time"

// A Scenario is one ride to be made: where, when and in what weather.
type Scenario struct {
	Name   string
	Course *Course
	Start  time.Time // zero: 1 June 2026, 06:30 UTC

	WindMPS  float64 // mean, at the rider's height
	WindFrom float64 // degrees, 0 is north
	AirC     float64
	Pressure float64 // Pa at the start; 0: standard
	Charge   float64 // of the battery at the start, 0..1; 0: full

	RedShare float64 // of their time that lights show red; 0: always green

	// LateShifts is how many down-shifts a rider makes far too late, on the
	// course's first legs marked Late; DelayS of the rider holds elsewhere.
	LateShifts int

	// Told is what the head unit logs of the motor; the zero value is all.
	Told Told

	// Logger: the drive logs volts, amperes and motor apart from the head unit,
	// five times a second and on its own clock.
	Logger bool

	// Ideal leaves out all that devices and weather add: no gusts, no sensor
	// errors, no noise, no lag. Channels are still quantised.
	Ideal bool
}

// Told is what a head unit logs of the motor.
type Told uint8

const (
	ToldAll     Told = iota // volts, amperes, charge, motor speed and temperature, assist level
	ToldPower               // only the motor's mechanical power, at the chainring or, of a hub motor, at the wheel
	ToldNothing             // a head unit that knows no motor
)

// The drive logger's clock runs ahead by LoggerOffsetS seconds at the start and
// gains LoggerDrift on the head unit's.
const (
	LoggerOffsetS = 37.4
	LoggerDrift   = 40e-6
)
