package drive

import (
	"math"

	"cogledger/analysis/doubt"
)

// Knowledge tells what the log says of the motor.
type Knowledge uint8

const (
	FromBattery    Knowledge = iota // volts and amperes logged
	FromMotorPower                  // the drive's own output power logged
	FromRoad                        // neither: road load less the rider's power
)

// Basis of a figure that rests on the motor's power.
func (k Knowledge) Basis() doubt.Basis {
	return [...]doubt.Basis{doubt.Measured, doubt.Derived, doubt.Modelled}[k]
}

// A Class is how the motor runs in one second.
type Class uint8

const (
	Unclassed   Class = iota // the log cannot tell: no gear, no speed, or a gap
	Stopped                  // the bike stands
	Coasting                 // rolling, neither legs nor motor push
	Resting                  // legs push, the motor gives under 15 W
	Lugging                  // loaded, slower than its efficient band
	InBand                   // loaded, within 3 points of the best efficiency it can reach at that power
	SpinningOut              // loaded, faster than its band or out of voltage
	ClassCount
)

func (c Class) String() string {
	return [...]string{"unknown", "stopped", "coasting", "resting", "lugging", "in band", "spinning out"}[c]
}

// Loaded reports whether the motor pushes in this class.
func (c Class) Loaded() bool { return c == Lugging || c == InBand || c == SpinningOut }

// A LegsClass is how the rider's legs turn in one second.
type LegsClass uint8

const (
	LegsUnknown LegsClass = iota
	LegsStill             // the crank stands, or turns slowly without a push
	LegsLugging           // below the rider's band while pushing
	LegsInBand
	LegsSpinning // above it
	LegsClassCount
)

func (c LegsClass) String() string {
	return [...]string{"unknown", "still", "lugging", "in band", "spinning"}[c]
}

// A Limit is what keeps a drive from giving the power asked of it.
type Limit uint8

const (
	NoLimit      Limit = iota
	VoltageLimit       // the battery's voltage under load is used up
	BatteryLimit       // battery current limit
	PhaseLimit         // motor current limit
)

func (l Limit) String() string {
	return [...]string{"none", "voltage", "battery current", "motor current"}[l]
}

// A Series is the drive's state second by second. Columns have one value a
// second, NaN where unknown; powers in W.
type Series struct {
	Knowledge     Knowledge
	VoltsModelled bool // amperes are logged but volts are not: the profile's battery stands in
	LegsMeasured  bool // the log has the rider's power

	MotorSpeed []float64 // rad/s; 0 while the motor rests behind its clutch and its speed is not logged
	MotorAmps  []float64 // A in the equivalent machine
	Shaft      []float64 // at the motor's shaft, before the reduction
	Volts      []float64 // V at the battery's terminals
	Amps       []float64 // A out of the battery
	Terminal   []float64 // out of the battery's terminals
	Efficiency []float64 // Shaft / Terminal where the motor is loaded

	OpenCircuit []float64 // V of the battery at rest
	BatteryHeat []float64 // in the battery's resistance
	Controller  []float64
	Copper      []float64
	Drag        []float64 // iron, bearings, windage
	Reduction   []float64
	Chain       []float64 // the motor's share of the loss in chain and gears
	Delivered   []float64 // the motor's power at the wheel

	Legs      []float64 // the rider's power at the crank
	LegsChain []float64 // the rider's share of the loss in chain and gears

	BandLow, BandBest, BandHigh []float64 // rad/s, the efficient band at this second's shaft power
	Winding, Housing            []float64 // °C in the middle of the second
	Class                       []Class
	LegsClass                   []LegsClass
	Limits                      []Limit

	// The legs as they entered the chain, never NaN: an unknown rider power is
	// replaced there by the profile's assumption.
	pull, pullOut []float64 // W at the crank, W of it at the wheel

	room  []float64           // that the columns lie in
	bands map[bandsKey]*Bands // that rides were held against
}

// ForgetMotor takes out of the series what it says of the motor and the battery,
// for a log that shows none: those columns become NaN, and seconds in which a
// motor would have run are unclassed. What the legs did stays.
func (s *Series) ForgetMotor() {
	for _, column := range [][]float64{
		s.MotorSpeed, s.MotorAmps, s.Shaft, s.Volts, s.Amps, s.Terminal, s.Efficiency, s.OpenCircuit, s.BatteryHeat,
		s.Controller, s.Copper, s.Drag, s.Reduction, s.Chain, s.Delivered, s.BandLow, s.BandBest, s.BandHigh, s.Winding, s.Housing,
	} {
		for i := range column {
			column[i] = math.NaN()
		}
	}
	for i, c := range s.Class {
		if c.Loaded() || c == Resting {
			s.Class[i] = Unclassed
		}
		s.Limits[i] = NoLimit
	}
}
