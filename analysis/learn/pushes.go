package learn

import (
	"maps"
	"math"
	"slices"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/ingest/ride"
)

// A push is some seconds in which legs and motor pushed evenly. The torque of
// legs swings with every half turn of the crank, and a drive follows it late: a
// single slow second says little, while over a few all that evens out.
type push struct {
	seconds []pushSecond
	legs    float64 // N m at the crank, mean
	level   int
	ride    int
	first   int // second of its ride
}

// weight is one over what chance does to the push, in units of what it does to
// one second by itself: noise that evens out with the root of time, and the
// half turns cut off at its ends, which do so with time.
func (x *push) weight() float64 {
	n := float64(len(x.seconds))
	return n / math.Sqrt(n+halfTurns)
}

type pushSecond struct {
	terminal float64 // W
	volts    float64
	speed    float64 // rad/s of the motor
	warmth   float64 // R(T)/R25
	swing    float64 // mean square of the motor's torque over the square of its mean
}

const (
	shortestPush = 4 // s
	longestPush  = 40
	settling     = 2    // s at a push's start that the drive needs to follow
	evenTurn     = 1.06 // most change of cadence in two seconds; a shift makes more
	evenTorque   = 1.4  // most change of torque in a second; a shift makes more
	halfTurns    = 40   // square of what half turns at the ends do, over that of a second's noise
	leastOfLevel = 60   // s, of a level to be learnt from
)

// pushes are what rides tell of legs and motor pushing together.
type pushes struct {
	steady []push
	levels [][]pushSecond // each second of a level of assistance in which both pushed, steadily or not
}

// gather finds the pushes that tell. Levels are counted from 0; those with too
// few steady seconds are left out.
func gather(rides []Read, p *bike.Profile, unit drive.Unit) (all pushes) {
	seconds := map[int][]pushSecond{}
	counts := map[int]int{}
	for k, rd := range rides {
		x := newPusher(rd, p, unit)
		if x == nil {
			continue
		}
		for _, found := range x.pushes() {
			found.ride = k
			counts[found.level] += len(found.seconds)
			all.steady = append(all.steady, found)
		}
		for i := range x.torque {
			if x.pushing(i) {
				level := x.level(i)
				seconds[level] = append(seconds[level], x.second(i))
			}
		}
	}
	place := map[int]int{}
	for _, level := range slices.Sorted(maps.Keys(counts)) {
		if counts[level] >= leastOfLevel {
			place[level] = len(all.levels)
			all.levels = append(all.levels, seconds[level])
		}
	}
	kept := all.steady[:0]
	for _, x := range all.steady {
		if at, told := place[x.level]; told {
			x.level = at
			kept = append(kept, x)
		}
	}
	all.steady = kept
	return all
}

// A pusher looks for pushes in one ride.
type pusher struct {
	read    Read
	unit    drive.Unit
	torque  []float64 // N m at the crank, NaN where nobody pushes
	cadence []float64 // rpm
}

// newPusher is nil where the ride's log does not tell of motor and legs.
func newPusher(rd Read, p *bike.Profile, unit drive.Unit) *pusher {
	cadence, legs := rd.Ride.Column(ride.CadenceRPM), rd.Ride.Column(ride.RiderPower)
	if cadence == nil || legs == nil || rd.Drive.Knowledge != drive.FromBattery || rd.Drive.VoltsModelled {
		return nil
	}
	x := &pusher{rd, unit, make([]float64, len(legs)), cadence}
	const leastRPM, leastW = 20, 25
	perRPM := unit.SpeedAtCadence(1)
	for i := range legs {
		x.torque[i] = math.NaN()
		w, speed := legs[i]*p.Sensors.RiderPower, rd.Drive.MotorSpeed[i]
		// Where the motor turns with the crank its speed is the finer one.
		if turn := speed / perRPM; cadence[i] >= leastRPM && w >= leastW && math.Abs(turn/cadence[i]-1) < 0.06 {
			x.torque[i] = w / (turn * 2 * math.Pi / 60)
		}
	}
	return x
}

// pushes cuts the ride into pushes.
func (x *pusher) pushes() (all []push) {
	for from := 0; from < len(x.torque); {
		to := from
		for to < len(x.torque) && x.goesOn(from, to) {
			to++
		}
		// The last second may hold the beginning of what ended the run.
		if first, last := from+settling, to-1; last-first >= shortestPush {
			parts := (last - first + longestPush - 1) / longestPush
			for k := range parts {
				a, b := first+(last-first)*k/parts, first+(last-first)*(k+1)/parts
				all = append(all, x.push(a, b))
			}
		}
		from = max(to, from+1)
	}
	return all
}

// goesOn reports whether second i belongs to a run that began at from.
func (x *pusher) goesOn(from, i int) bool {
	d := x.read.Drive
	if !x.pushing(i) || i == from {
		return x.pushing(i)
	}
	alike := func(a, b, most float64) bool { return a <= b*most && b <= a*most }
	return alike(x.torque[i], x.torque[i-1], evenTorque) && alike(d.MotorSpeed[i], d.MotorSpeed[max(from, i-2)], evenTurn) &&
		x.level(i) == x.level(i-1)
}

// pushing reports whether legs and motor push together in second i.
func (x *pusher) pushing(i int) bool {
	return !math.IsNaN(x.torque[i]) && x.read.Road.Speed[i] <= x.unit.Cutoff-0.4 && x.read.Drive.Terminal[i] > x.unit.Fixed+20
}

func (x *pusher) level(i int) int {
	if v := x.read.Ride.At(ride.AssistLevel, i); !math.IsNaN(v) {
		return int(math.Round(v))
	}
	return 0
}

func (x *pusher) push(from, to int) push {
	p := push{level: x.level(from), first: from}
	for i := from; i < to; i++ {
		p.legs += x.torque[i] / float64(to-from)
		p.seconds = append(p.seconds, x.second(i))
	}
	return p
}

func (x *pusher) second(i int) pushSecond {
	d := x.read.Drive
	return pushSecond{
		terminal: d.Terminal[i], volts: d.Volts[i], speed: d.MotorSpeed[i],
		warmth: x.unit.Resistance(d.Winding[i]) / x.unit.R25,
		swing:  swing(d.MotorSpeed[i] / x.unit.SpeedAtCadence(1)),
	}
}

// swing is how much larger the mean square of the motor's torque is than the
// square of its mean, because legs push unevenly. Their torque swings by about a
// half of its mean twice a turn, and a drive follows within a few tenths of a
// second; both are common practice, and a drive that evens out whole turns has
// none of it.
func swing(rpm float64) float64 {
	const (
		legs     = 0.5
		followsS = 0.3
	)
	lag := 2 * 2 * math.Pi * rpm / 60 * followsS // rad between the legs' swing and the motor's
	return 1 + legs*legs/2/(1+lag*lag)
}

// seconds counts those of some pushes.
func seconds(some []push) (n int) {
	for i := range some {
		n += len(some[i].seconds)
	}
	return n
}
