package quantity

import (
	"strings"
	"unicode"

	"cogledger/ingest/ride"
)

// A Guess is what a column was taken for.
type Guess struct {
	Channel ride.Channel
	Factor  Factor // what the channel needs to be multiplied with, where the column is a torque
	Unit    Unit
	Certain int // the higher the better the name fits; for choosing between columns
}

// A Factor makes power of torque.
type Factor uint8

// The factors of a torque.
const (
	One       Factor = iota
	CrankTurn        // times the crank's speed
	MotorTurn        // times the motor's speed
)

// Take tells which channel a logger's own column holds, from its name and its
// unit, however they are spelt: "Battery Voltage" in V, "battVolt" in mV,
// "motor_rpm" without a unit. It returns false for whatever a ride has no
// channel for: cell, phase and throttle voltages, phase currents, limits and
// averages, which would be mistaken for what the battery gives.
func Take(name, unitName string) (Guess, bool) {
	n := newWords(name)
	u, known := Parse(unitName)
	if !known {
		return Guess{}, false
	}
	if strings.TrimSpace(unitName) == "" {
		u = n.impliedUnit()
	}
	if n.any("max", "min", "avg", "average", "mean", "limit", "target", "set", "setpoint", "total", "range", "remaining", "loss", "efficiency", "normalized", "normalised", "lap") {
		return Guess{}, false
	}
	for _, r := range rules {
		if r.kind == u.Kind && (r.needs == nil || n.any(r.needs...)) && !n.any(r.bars...) {
			g := Guess{Channel: r.channel, Factor: r.factor, Unit: u, Certain: r.certain}
			return g, true
		}
	}
	return Guess{}, false
}

var (
	batteryWords = []string{"battery", "batt", "bat", "akku", "accu", "pack", "bms", "dc", "bus", "supply", "main"}
	motorWords   = []string{"motor", "mot", "drive", "engine", "emotor", "assist", "support"}
	riderWords   = []string{"rider", "human", "user", "pedal", "crank", "leg", "legs", "cyclist", "cycling"}
	innerWords   = []string{"cell", "phase", "coin", "sensor", "throttle", "hall", "iq", "id", "vq", "vd", "gate", "charger", "light"}
)

// A rule takes a column of a kind for a channel if its name holds one of the
// needed words and none of the barred ones. The first rule that fits counts.
type rule struct {
	kind        Kind
	channel     ride.Channel
	factor      Factor
	certain     int
	needs, bars []string
}

var rules = []rule{
	{Voltage, ride.BatteryVolts, One, 2, batteryWords, join(innerWords, motorWords)},
	{Voltage, ride.BatteryVolts, One, 1, []string{"voltage", "volt", "volts", "v", "u"}, join(innerWords, motorWords, []string{"controller"})},
	{Current, ride.BatteryAmps, One, 2, batteryWords, join(innerWords, motorWords)},
	{Current, ride.BatteryAmps, One, 1, []string{"current", "amp", "amps", "ampere", "amperes", "i", "a"}, join(innerWords, motorWords, []string{"controller"})},
	{Rotation, ride.MotorRPM, One, 2, motorWords, []string{"wheel", "erpm"}},
	{Rotation, ride.CadenceRPM, One, 2, join(riderWords, []string{"cadence"}), nil},
	{Temperature, ride.MotorTemp, One, 2, join(motorWords, []string{"winding", "stator", "coil"}), []string{"controller", "battery", "batt", "fet"}},
	{Temperature, ride.AirTemp, One, 2, []string{"air", "ambient", "outside", "weather", "environment"}, nil},
	{Power, ride.MotorPower, One, 2, motorWords, join(batteryWords, []string{"electrical", "electric", "elec", "input", "in"})},
	{Power, ride.RiderPower, One, 2, riderWords, batteryWords},
	{Torque, ride.MotorPower, MotorTurn, 1, motorWords, []string{"wheel"}},
	{Torque, ride.RiderPower, CrankTurn, 1, riderWords, []string{"wheel"}},
	{Share, ride.BatteryCharge, One, 2, join(batteryWords, []string{"soc", "charge"}), []string{"health", "soh"}},
	{Share, ride.AssistLevel, One, 1, []string{"assist", "support"}, []string{"battery"}},
	{Number, ride.AssistLevel, One, 2, []string{"assist", "assistlevel", "assistmode", "support", "supportlevel", "supportmode", "pas"}, nil},
	{Speed, ride.Speed, One, 2, []string{"wheel", "speed", "velocity"}, []string{"wind", "air", "vertical", "motor", "gps"}},
	{Length, ride.Altitude, One, 1, []string{"altitude", "elevation", "alt"}, nil},
}

func join(lists ...[]string) (all []string) {
	for _, l := range lists {
		all = append(all, l...)
	}
	return all
}

// words is a name taken apart: battVolt, batt_volt and "Batt Volt" are alike.
type words []string

func newWords(name string) words {
	var parts words
	var word []rune
	flush := func() {
		if len(word) > 0 {
			parts = append(parts, strings.ToLower(string(word)))
			word = word[:0]
		}
	}
	var last rune
	for _, r := range name {
		switch {
		case !unicode.IsLetter(r):
			flush()
		case unicode.IsUpper(r) && unicode.IsLower(last):
			flush()
			word = append(word, r)
		default:
			word = append(word, r)
		}
		last = r
	}
	flush()
	return parts
}

func (w words) any(wanted ...string) bool {
	for _, have := range w {
		for _, want := range wanted {
			if have == want || len(want) > 4 && strings.HasPrefix(have, want) {
				return true
			}
		}
	}
	return false
}

// impliedUnit is what a name without a unit is counted in, the ride's own.
func (w words) impliedUnit() Unit {
	switch {
	case w.any("voltage", "volt", "volts"):
		return Unit{Voltage, 1, 0}
	case w.any("current", "amp", "amps", "ampere"):
		return Unit{Current, 1, 0}
	case w.any("rpm", "cadence"), w.any("speed") && w.any("motor"):
		return Unit{Rotation, 1, 0}
	case w.any("temperature", "temp"):
		return Unit{Temperature, 1, 0}
	case w.any("power", "watts", "watt"):
		return Unit{Power, 1, 0}
	case w.any("torque"):
		return Unit{Torque, 1, 0}
	case w.any("soc", "charge", "percent", "percentage"), w.any("level") && w.any("battery", "batt"):
		return Unit{Share, 1, 0}
	}
	return Unit{Number, 1, 0}
}
