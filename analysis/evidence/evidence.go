// Package evidence sets what a log says twice side by side: two channels that
// must agree, or a channel and the profile. Where they do not, at least one of
// them is wrong, and what rests on it is not to be told.
package evidence

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/ingest/ride"
)

// A Target is what a contradiction takes away.
type Target uint8

// The targets, each with all that rests on it.
const (
	Nothing Target = iota // worth a note only
	Drive                 // the profile's drive is not the one that was ridden: no split of losses, no heat, no loss to lugging
	Energy                // the battery's side itself
)

// A Contradiction is what two sources of one quantity do not agree on.
type Contradiction struct {
	Against Target
	Note    ride.Note
}

// Find looks for everything that contradicts itself. The series is the drive as
// worked out from the same ride and profile.
func Find(r *ride.Ride, p *bike.Profile, d *drive.Series) []Contradiction {
	var all []Contradiction
	for _, check := range []func(*ride.Ride, *bike.Profile, *drive.Series) *Contradiction{
		reversedCurrent, otherVoltage, motorPower, motorSpeed, tooFastMotor, wheelAgainstPositions, distanceAgainstSpeed,
	} {
		if c := check(r, p, d); c != nil {
			all = append(all, *c)
		}
	}
	return all
}

// leastSeconds is how much of a ride a comparison needs.
const leastSeconds = 60

// mostCharge is the share of all ampere-seconds that may flow back into a battery.
// Recuperation on a ride there and back stays far below it: common practice.
const mostCharge = 0.5

func reversedCurrent(r *ride.Ride, _ *bike.Profile, _ *drive.Series) *Contradiction {
	back, all := 0.0, 0.0
	for i, a := range r.Column(ride.BatteryAmps) {
		if r.Paused(i) || math.IsNaN(a) {
			continue
		}
		all += math.Abs(a)
		back += max(0, -a)
	}
	if !(back > mostCharge*all) || all < leastSeconds { // an ampere for a minute
		return nil
	}
	return &Contradiction{Energy, ride.Note{
		Text: fmt.Sprintf("%.0f %% of the logged current flows into the battery: its sign is probably turned round, and nothing is told of the battery's energy", 100*back/all),
		Cure: "turn the sign with scale: -1 for battery_current in a column map, or in the logger",
	}}
}

// The mean voltage of a lithium-ion pack on a ride stays within these of its
// nominal one: cells of 3.6 V are used between 3.0 and 4.2 V. Common practice.
const lowVolts, highVolts = 0.8, 1.2

func otherVoltage(r *ride.Ride, p *bike.Profile, _ *drive.Series) *Contradiction {
	volts := running(r, ride.BatteryVolts)
	if len(volts) < leastSeconds || !(p.Battery.NominalV > 0) {
		return nil
	}
	mean := stat.Mean(volts, nil)
	if share := mean / p.Battery.NominalV; share >= lowVolts && share <= highVolts {
		return nil
	}
	return &Contradiction{Drive, ride.Note{
		Text: fmt.Sprintf("the logged voltage, %.1f V in the mean, is not that of a battery of %.0f V: the log and the profile are of different bikes", mean, p.Battery.NominalV),
		Cure: "correct battery.nominal_v and the motor's constants in the profile, or name the bike that was ridden",
	}}
}

// What a motor's shaft gives of the battery's power, over a ride's loaded seconds:
// above all of it is impossible, under the lower one no working drive lies. The
// profile's own drive may differ from the logged power by mostApart.
const (
	leastGiven, mostGiven = 0.45, 1.0
	mostApart             = 0.1
	loadedW               = 50
)

func motorPower(r *ride.Ride, _ *bike.Profile, d *drive.Series) *Contradiction {
	given, drawn, worked, n := 0.0, 0.0, 0.0, 0
	for i, w := range r.Column(ride.MotorPower) {
		electric := r.At(ride.BatteryVolts, i) * r.At(ride.BatteryAmps, i)
		if r.Paused(i) || !(w > loadedW) || !(electric > loadedW) {
			continue
		}
		given, drawn, n = given+w, drawn+electric, n+1
		if i < len(d.Shaft) && !math.IsNaN(d.Shaft[i]) {
			worked += d.Shaft[i]
		}
	}
	if n < leastSeconds {
		return nil
	}
	if share := given / drawn; share > mostGiven || share < leastGiven {
		return &Contradiction{Energy, ride.Note{
			Text: fmt.Sprintf("the motor power in the log is %.0f %% of volts times amperes, which no drive gives: one of them is wrong, and nothing is told of the battery's energy", 100*share),
			Cure: "check the units of motor power, voltage and current, and that the column is the motor's mechanical power",
		}}
	}
	if apart := given/worked - 1; worked > 0 && math.Abs(apart) > mostApart {
		return &Contradiction{Nothing, ride.Note{
			Text: fmt.Sprintf("the motor power in the log is %.0f %% %s what the profile's motor would give from the logged volts and amperes", 100*math.Abs(apart), map[bool]string{true: "above", false: "below"}[apart > 0]),
			Cure: "the losses are split by the profile's constants: check motor and controller, or let bike learn find them",
		}}
	}
	return nil
}

// mostSlip is how far the logged motor speed may be from what the profile's ratio
// makes of crank or wheel, in the middle of the seconds in which both turn.
const mostSlip = 0.06

func motorSpeed(r *ride.Ride, p *bike.Profile, _ *drive.Series) *Contradiction {
	var ratios []float64
	for i, rpm := range r.Column(ride.MotorRPM) {
		turns := r.At(ride.CadenceRPM, i) * p.Drive.TurnsPerCrank
		if p.Drive.Kind == bike.Hub {
			turns = r.At(ride.Speed, i) / p.Circumference() * 60 * p.Drive.TurnsPerWheel
		}
		if r.Paused(i) || !(rpm > 0) || !(turns > 0) || p.Drive.Kind == bike.Mid && !(r.At(ride.CadenceRPM, i) >= 40) {
			continue
		}
		ratios = append(ratios, rpm/turns)
	}
	if len(ratios) < leastSeconds {
		return nil
	}
	middle := median(ratios)
	if math.Abs(middle-1) <= mostSlip {
		return nil
	}
	key, was := "turns_per_crank", p.Drive.TurnsPerCrank
	if p.Drive.Kind == bike.Hub {
		key, was = "turns_per_wheel", p.Drive.TurnsPerWheel
	}
	return &Contradiction{Drive, ride.Note{
		Text: fmt.Sprintf("the logged motor speed is %.2f times what the profile's drive.%s of %.4g makes of it", middle, key, was),
		Cure: fmt.Sprintf("set drive.%s to %.4g, or check the unit of motor_speed", key, was*middle),
	}}
}

// tooFastMotor asks whether the profile's motor could turn at all as fast as its
// legs or its wheel turn it: its own voltage would be the battery's.
func tooFastMotor(_ *ride.Ride, p *bike.Profile, _ *drive.Series) *Contradiction {
	if !(p.Motor.TorqueConstant > 0) {
		return nil
	}
	free := p.Battery.NominalV / p.Motor.TorqueConstant * 30 / math.Pi // rpm without load
	asked, where := p.Legs.BandRPM[0]*p.Drive.TurnsPerCrank, fmt.Sprintf("%.0f crank turns a minute", p.Legs.BandRPM[0])
	if p.Drive.Kind == bike.Hub {
		const slow = 10 / 3.6 // m/s
		asked, where = slow/p.Circumference()*60*p.Drive.TurnsPerWheel, "10 km/h"
	}
	if !(asked > free) {
		return nil
	}
	return &Contradiction{Drive, ride.Note{
		Text: fmt.Sprintf("at %s the profile's motor would turn %.0f times a minute, but its torque constant and the battery's voltage allow %.0f: the constants contradict each other", where, asked, free),
		Cure: "check drive and motor.torque_constant_nm_per_a in the profile",
	}}
}

// Chords of positions against the way by the wheel: over this many seconds at this
// speed or more a road is nearly straight and the noise of positions small.
const (
	chordS     = 20
	chordSpeed = 4    // m/s
	mostOffWay = 0.06 // in the middle of the chords
)

func wheelAgainstPositions(r *ride.Ride, _ *bike.Profile, _ *drive.Series) *Contradiction {
	if o := r.Origin(ride.Speed); o != ride.WheelSensor && o != ride.Device || !r.Has(ride.Latitude) || !r.Has(ride.Longitude) {
		return nil
	}
	var ratios []float64
	for from := 0; from+chordS < r.Len(); from += chordS {
		way, whole := 0.0, true
		for i := from; i < from+chordS; i++ {
			v := r.At(ride.Speed, i)
			whole = whole && v >= chordSpeed && !r.Paused(i)
			way += (v + r.At(ride.Speed, i+1)) / 2
		}
		chord := ride.GroundDistance(r.At(ride.Latitude, from), r.At(ride.Longitude, from), r.At(ride.Latitude, from+chordS), r.At(ride.Longitude, from+chordS))
		if whole && way > 0 && chord > 0 {
			ratios = append(ratios, chord/way)
		}
	}
	const least = 20 // chords
	if len(ratios) < least {
		return nil
	}
	// Bends shorten chords, so the straighter half speaks.
	straight := quantile(0.75, ratios)
	if math.Abs(straight-1) <= mostOffWay {
		return nil
	}
	return &Contradiction{Nothing, ride.Note{
		Text: fmt.Sprintf("the positions say %.0f %% of the way that the speed says", 100*straight),
		Cure: "check the wheel's circumference in the device: distances and everything a kilometre are off by as much",
	}}
}

const mostOffDistance = 0.03

func distanceAgainstSpeed(r *ride.Ride, _ *bike.Profile, _ *drive.Series) *Contradiction {
	for _, c := range []ride.Channel{ride.Speed, ride.Distance} {
		if o := r.Origin(c); o != ride.WheelSensor && o != ride.Device {
			return nil
		}
	}
	way, logged := 0.0, 0.0
	for i := 1; i < r.Len(); i++ {
		step, v := r.At(ride.Distance, i)-r.At(ride.Distance, i-1), (r.At(ride.Speed, i)+r.At(ride.Speed, i-1))/2
		if r.Paused(i) || r.Paused(i-1) || math.IsNaN(step) || math.IsNaN(v) {
			continue
		}
		way, logged = way+v, logged+step
	}
	const least = 500 // m
	if !(way > least) || !(logged > least) || math.Abs(logged/way-1) <= mostOffDistance {
		return nil
	}
	return &Contradiction{Nothing, ride.Note{
		Text: fmt.Sprintf("the logged distance is %.1f %% of what the logged speed adds up to", 100*logged/way),
		Cure: "check the device's wheel size; the gears are told from speed",
	}}
}

// running are the known values of a channel outside pauses.
func running(r *ride.Ride, c ride.Channel) []float64 {
	var kept []float64
	for i, v := range r.Column(c) {
		if !r.Paused(i) && !math.IsNaN(v) {
			kept = append(kept, v)
		}
	}
	return kept
}

func median(values []float64) float64 { return quantile(0.5, values) }

func quantile(p float64, values []float64) float64 {
	sorted := slices.Sorted(slices.Values(values))
	return stat.Quantile(p, stat.Empirical, sorted, nil)
}
