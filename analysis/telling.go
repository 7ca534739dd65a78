package analysis

import (
	"fmt"
	"io"
	"math"

	"cogledger/ingest/ride"
)

// A Telling says whether a question can be answered from the log.
type Telling struct {
	Question string
	Answer   Answer
	By       string // what it rests on, or what is missing
}

// An Answer is how well a question can be answered.
type Answer uint8

// Answers, from worst to best.
const (
	No       Answer = iota
	Modelled        // by assumptions in place of what the log lacks
	Derived         // worked out from what the log measures
	Measured
)

func (a Answer) String() string { return [...]string{"no", "modelled", "derived", "measured"}[a] }

// WriteTellings writes the answers as text of some hundred columns.
func WriteTellings(w io.Writer, all []Telling) error {
	if _, err := fmt.Fprintln(w, "  what can be told"); err != nil {
		return err
	}
	for _, t := range all {
		if _, err := fmt.Fprintf(w, "    %-36s %-9s %s\n", t.Question, t.Answer, t.By); err != nil {
			return err
		}
	}
	return nil
}

// Tell answers what a user wants to know of a ride from the channels that hold
// enough of it: a channel that is empty, or nought throughout, for most of the
// riding tells nothing. What the ride on a bike bears in the end is Result.Bears.
func Tell(r *ride.Ride) []Telling {
	has := func(c ride.Channel) bool { return covers(r, c) }
	speed, cadence := has(ride.Speed), has(ride.CadenceRPM)
	volts, amps := has(ride.BatteryVolts), has(ride.BatteryAmps)
	motorPower, motorRPM := has(ride.MotorPower), has(ride.MotorRPM)
	rider, altitude := has(ride.RiderPower), has(ride.Altitude)
	var all []Telling
	tell := func(question string, a Answer, by string) { all = append(all, Telling{question, a, by}) }

	const gear = "which gear was in use"
	switch {
	case speed && cadence && motorRPM:
		tell(gear, Derived, "speed against cadence, and motor speed while the legs rest")
	case speed && cadence:
		tell(gear, Derived, "speed against cadence")
	case speed && motorRPM:
		tell(gear, Derived, "speed against motor speed, on a mid drive")
	case len(r.Shifts) > 0:
		tell(gear, Measured, "recorded shifts alone, unchecked: "+lacks(speed, "speed", cadence, "cadence"))
	default:
		tell(gear, No, lacks(speed, "speed", cadence, "cadence"))
	}
	const turns = "how fast the motor turned"
	switch {
	case motorRPM:
		tell(turns, Measured, "logged motor speed")
	case cadence:
		tell(turns, Derived, "cadence and the drive's ratio on a mid drive; speed and its ratio on a hub drive")
	case speed:
		tell(turns, Derived, "speed and the drive's ratio, on a hub drive alone")
	default:
		tell(turns, No, lacks(speed, "speed", cadence, "cadence"))
	}
	const load = "how hard the motor worked"
	switch {
	case volts && amps:
		tell(load, Derived, "the battery's volts and amperes")
	case amps:
		tell(load, Derived, "the battery's amperes, with the profile's voltage")
	case motorPower:
		tell(load, Derived, "the motor power that the drive reports")
	case speed && rider && cadence && altitude:
		tell(load, Modelled, "road load less the rider's power, if the log shows that there was a motor; log volts and amperes for more")
	default:
		tell(load, No, "neither the battery's amperes nor motor power, nor all of speed, cadence, altitude and rider power")
	}
	const stored = "where the battery's energy went"
	switch {
	case volts && amps:
		tell(stored, Measured, "volts times amperes, second by second")
	case amps || motorPower:
		tell(stored, Derived, "the motor model from "+either(amps, "the battery's current", "motor power"))
	case all[2].Answer == Modelled:
		tell(stored, Modelled, "road load; the sum is an estimate")
	default:
		tell(stored, No, all[2].By)
	}
	const wheel = "where the energy at the wheel went"
	switch {
	case speed && altitude:
		tell(wheel, Derived, "speed and altitude")
	case speed:
		tell(wheel, Modelled, "speed alone, as if the road were flat: altitude is missing")
	default:
		tell(wheel, No, "speed is missing")
	}
	const heat = "how hot the winding got"
	switch {
	case all[2].Answer == No:
		tell(heat, No, all[2].By)
	case has(ride.MotorTemp):
		tell(heat, Modelled, "losses and the profile's masses, checked against the drive's own sensor")
	default:
		tell(heat, Modelled, "losses and the profile's masses")
	}
	const place = "where on the road"
	switch {
	case has(ride.Latitude):
		tell(place, Measured, "logged positions")
	case has(ride.Distance):
		tell(place, Derived, "distance from the start")
	default:
		tell(place, No, "neither positions nor distance")
	}
	return all
}

// covers reports whether a channel holds enough of the riding to answer with:
// values in half of the running seconds, and, of what turns or pushes, more than
// noughts.
func covers(r *ride.Ride, c ride.Channel) bool {
	running, told, alive := 0, 0, 0
	for i, v := range r.Column(c) {
		if r.Paused(i) {
			continue
		}
		running++
		if !math.IsNaN(v) {
			told++
			if v != 0 {
				alive++
			}
		}
	}
	if share(told, running) < leastKnown {
		return false
	}
	switch c {
	case ride.CadenceRPM, ride.Speed:
		return share(alive, running) >= leastPedalled
	case ride.BatteryAmps, ride.MotorPower, ride.MotorRPM, ride.RiderPower:
		return share(alive, running) >= leastMotorShown
	}
	return true
}

// lacks names what is missing.
func lacks(a bool, nameA string, b bool, nameB string) string {
	switch {
	case !a && !b:
		return nameA + " and " + nameB + " are missing or hold too little"
	case !a:
		return nameA + " is missing or holds too little"
	}
	return nameB + " is missing or holds too little"
}

func either(first bool, a, b string) string {
	if first {
		return a
	}
	return b
}
