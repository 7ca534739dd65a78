// Package quantity tells what the columns of a log measure. It reads the units
// that logs write beside their numbers, turns the numbers into the units of
// package ride, and knows a channel by the many names that loggers give it.
package quantity

import (
	"math"
	"strings"

	"cogledger/ingest/ride"
)

// A Kind is the kind of quantity that a unit measures.
type Kind uint8

// The kinds that a ride's channels hold, and torque, which makes power of
// them.
const (
	Number      Kind = iota // a bare number or level
	Speed                   // m/s
	Length                  // m
	Rotation                // turns a minute
	Power                   // W
	Voltage                 // V
	Current                 // A
	Share                   // per cent
	Temperature             // °C
	Angle                   // degrees
	Torque                  // Nm
)

// A Unit turns a number into the unit that package ride uses for its quantity.
type Unit struct {
	Kind   Kind
	factor float64
	zero   float64 // what the unit's zero is in the ride's unit
}

// Convert gives the value in the ride's unit.
func (u Unit) Convert(v float64) float64 { return v*u.factor + u.zero }

// Parse reads a unit as logs and column names write it: km/h, kmh, mA, degC.
// Case counts only where it parts milli from mega.
func Parse(name string) (Unit, bool) {
	name = strings.TrimSpace(name)
	if u, ok := byName[name]; ok {
		return u, true
	}
	u, ok := byName[strings.ToLower(strings.ReplaceAll(name, " ", ""))]
	return u, ok
}

// Names lists the units of a quantity that a message may offer.
func Names(q Kind) []string { return offered[q] }

// Of is what a channel's unit measures.
func Of(c ride.Channel) Kind { return ofChannel[c] }

var ofChannel = [ride.ChannelCount]Kind{
	ride.Speed:         Speed,
	ride.Distance:      Length,
	ride.CadenceRPM:    Rotation,
	ride.RiderPower:    Power,
	ride.MotorPower:    Power,
	ride.BatteryVolts:  Voltage,
	ride.BatteryAmps:   Current,
	ride.BatteryCharge: Share,
	ride.MotorRPM:      Rotation,
	ride.MotorTemp:     Temperature,
	ride.AirTemp:       Temperature,
	ride.AssistLevel:   Number,
	ride.Altitude:      Length,
	ride.Latitude:      Angle,
	ride.Longitude:     Angle,
}

var offered = map[Kind][]string{
	Number:      {""},
	Speed:       {"mps", "kmh", "mph"},
	Length:      {"m", "km", "mi", "ft"},
	Rotation:    {"rpm", "rps", "rad_s"},
	Power:       {"w", "kw"},
	Voltage:     {"v", "mv"},
	Current:     {"a", "ma"},
	Share:       {"pct"},
	Temperature: {"c", "f", "k"},
	Angle:       {"deg"},
	Torque:      {"nm"},
}

// The factors are the definitions of the SI brochure and, for mile, foot and
// degree Fahrenheit, of NIST Special Publication 811.
var byName = table(
	names(Unit{Number, 1, 0}, "", "level", "number", "1"),
	names(Unit{Speed, 1, 0}, "m/s", "mps", "ms", "m_s", "ms-1"),
	names(Unit{Speed, 1 / 3.6, 0}, "km/h", "kmh", "kph", "km_h", "kmph"),
	names(Unit{Speed, 0.44704, 0}, "mph", "mi/h"),
	names(Unit{Length, 1, 0}, "m", "metre", "metres", "meter", "meters"),
	names(Unit{Length, 1000, 0}, "km"),
	names(Unit{Length, 1609.344, 0}, "mi", "mile", "miles"),
	names(Unit{Length, 0.3048, 0}, "ft", "feet", "foot"),
	names(Unit{Length, 0.01, 0}, "cm"),
	names(Unit{Length, 0.001, 0}, "mm"),
	names(Unit{Rotation, 1, 0}, "rpm", "1/min", "min-1", "r/min", "rev/min", "u/min"),
	names(Unit{Rotation, 60, 0}, "rps", "hz", "1/s", "rev/s"),
	names(Unit{Rotation, 30 / math.Pi, 0}, "rad/s", "rad_s", "rads"),
	names(Unit{Power, 1, 0}, "w", "watt", "watts"),
	names(Unit{Power, 1000, 0}, "kw"),
	names(Unit{Power, 0.001, 0}, "mW"),
	names(Unit{Voltage, 1, 0}, "v", "volt", "volts"),
	names(Unit{Voltage, 0.001, 0}, "mv", "millivolt", "millivolts"),
	names(Unit{Current, 1, 0}, "a", "amp", "amps", "ampere", "amperes"),
	names(Unit{Current, 0.001, 0}, "ma", "milliamp", "milliamps", "milliampere"),
	names(Unit{Share, 1, 0}, "%", "pct", "percent", "per_cent"),
	names(Unit{Temperature, 1, 0}, "c", "°c", "degc", "deg_c", "celsius", "ºc"),
	names(Unit{Temperature, 5 / 9.0, -32 * 5 / 9.0}, "f", "°f", "degf", "deg_f", "fahrenheit"),
	names(Unit{Temperature, 1, -273.15}, "k", "kelvin"),
	names(Unit{Angle, 1, 0}, "deg", "°", "degree", "degrees"),
	names(Unit{Angle, 180 / math.Pow(2, 31), 0}, "semicircles"),
	names(Unit{Torque, 1, 0}, "nm", "n·m", "n.m", "n*m", "newtonmetre", "newtonmeter"),
)

type named struct {
	unit  Unit
	names []string
}

func names(u Unit, spelt ...string) named { return named{u, spelt} }

func table(all ...named) map[string]Unit {
	t := map[string]Unit{}
	for _, n := range all {
		for _, name := range n.names {
			t[name] = n.unit
		}
	}
	return t
}
