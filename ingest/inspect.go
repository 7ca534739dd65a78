package ingest

import (
	"math"
	"slices"
	"time"

	"cogledger/ingest/ride"
)

// An Inspection tells what a log holds and what can be told from it.
type Inspection struct {
	Name     string
	Sources  []ride.Source
	Start    time.Time // zero when the log has no absolute time
	Seconds  int       // from the first sample to the last
	MovingS  int       // seconds faster than walking pace, of those with a speed
	PausedS  int       // seconds inside gaps of the log
	DistM    float64   // m; NaN if unknown
	Samples  int
	EveryS   float64 // s, median time from one sample to the next
	Channels []ChannelInspection
	Gaps     []Gap // the longest, in order of time
	GapCount int
	Shifts   int // gear changes that the bike recorded
	Told     []Telling
	Notes    []ride.Note
}

// A ChannelInspection tells of one channel.
type ChannelInspection struct {
	Channel        ride.Channel
	Origin         ride.Origin
	Measured       float64 // share of the seconds that are not paused
	Interpolated   float64
	Derived        float64
	Low, Mean, Top float64 // of the values
	LongestHoleS   int     // s without a value while the log ran
}

// A Gap is a pause of the log.
type Gap struct{ Second, Seconds int }

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

// walkingPace is the speed in m/s above which a bike counts as moving.
const walkingPace = 0.8

// Inspect tells what a track holds.
func Inspect(t *ride.Track) (*Inspection, error) {
	r, err := t.Ride()
	if err != nil {
		return nil, err
	}
	in := &Inspection{
		Name: r.Name, Sources: r.Sources, Start: r.Start, Seconds: r.Len(), DistM: math.NaN(),
		Samples: len(t.Time), EveryS: median(t.Ordered().Time), Shifts: len(r.Shifts), Notes: r.Notes,
	}
	in.pauses(r)
	for _, c := range r.Channels() {
		in.Channels = append(in.Channels, inspectChannel(r, c, r.Len()-in.PausedS))
	}
	for k := range r.Len() {
		if r.At(ride.Speed, k) > walkingPace {
			in.MovingS++
		}
	}
	if r.Has(ride.Distance) {
		i := slices.IndexFunc(in.Channels, func(c ChannelInspection) bool { return c.Channel == ride.Distance })
		in.DistM = in.Channels[i].Top - in.Channels[i].Low
	}
	in.Told = told(r)
	return in, nil
}

// pauses lists the gaps of the log.
func (in *Inspection) pauses(r *ride.Ride) {
	const most = 10
	for k := 0; k < r.Len(); k++ {
		if !r.Paused(k) {
			continue
		}
		from := k
		for k < r.Len() && r.Paused(k) {
			k++
		}
		in.Gaps = append(in.Gaps, Gap{from, k - from})
		in.PausedS += k - from
	}
	in.GapCount = len(in.Gaps)
	if in.GapCount > most {
		slices.SortFunc(in.Gaps, func(a, b Gap) int { return b.Seconds - a.Seconds })
		in.Gaps = in.Gaps[:most]
		slices.SortFunc(in.Gaps, func(a, b Gap) int { return a.Second - b.Second })
	}
}

func inspectChannel(r *ride.Ride, c ride.Channel, running int) ChannelInspection {
	found := ChannelInspection{Channel: c, Origin: r.Origin(c), Low: math.Inf(1), Top: math.Inf(-1)}
	counts := [4]int{}
	hole := 0
	sum, n := 0.0, 0.0
	for k, v := range r.Column(c) {
		if r.Paused(k) {
			hole = 0
			continue
		}
		counts[r.Marks(c)[k]]++
		if math.IsNaN(v) {
			hole++
			found.LongestHoleS = max(found.LongestHoleS, hole)
			continue
		}
		hole = 0
		sum, n = sum+v, n+1
		found.Low, found.Top = min(found.Low, v), max(found.Top, v)
	}
	found.Mean = sum / n
	share := func(m ride.Mark) float64 { return float64(counts[m]) / float64(running) }
	found.Measured, found.Interpolated, found.Derived = share(ride.Measured), share(ride.Interpolated), share(ride.Derived)
	return found
}

func median(times []float64) float64 {
	if len(times) < 2 {
		return math.NaN()
	}
	steps := make([]float64, len(times)-1)
	for i := range steps {
		steps[i] = times[i+1] - times[i]
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// told answers what a user wants to know of a ride.
func told(r *ride.Ride) []Telling {
	speed, cadence := r.Has(ride.Speed), r.Has(ride.CadenceRPM)
	volts, amps := r.Has(ride.BatteryVolts), r.Has(ride.BatteryAmps)
	motorPower, motorRPM := r.Has(ride.MotorPower), r.Has(ride.MotorRPM)
	rider, altitude := r.Has(ride.RiderPower), r.Has(ride.Altitude)
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
	case speed && rider:
		tell(load, Modelled, "road load less the rider's power; log volts and amperes for more")
	case speed:
		tell(load, Modelled, "road load with an assumed rider; log rider power, or volts and amperes, for more")
	default:
		tell(load, No, lacks(speed, "speed", amps, "battery current"))
	}
	const stored = "where the battery's energy went"
	switch {
	case volts && amps:
		tell(stored, Measured, "volts times amperes, second by second")
	case amps || motorPower:
		tell(stored, Derived, "the motor model from "+either(amps, "the battery's current", "motor power"))
	case speed:
		tell(stored, Modelled, "road load; the sum is an estimate")
	default:
		tell(stored, No, lacks(speed, "speed", amps, "battery current"))
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
	case r.Has(ride.MotorTemp):
		tell(heat, Modelled, "losses and the profile's masses, checked against the drive's own sensor")
	default:
		tell(heat, Modelled, "losses and the profile's masses")
	}
	const place = "where on the road"
	switch {
	case r.Has(ride.Latitude):
		tell(place, Measured, "logged positions")
	case r.Has(ride.Distance):
		tell(place, Derived, "distance from the start")
	default:
		tell(place, No, "neither positions nor distance")
	}
	return all
}

// lacks names what is missing.
func lacks(a bool, nameA string, b bool, nameB string) string {
	switch {
	case !a && !b:
		return nameA + " and " + nameB + " are missing"
	case !a:
		return nameA + " is missing"
	}
	return nameB + " is missing"
}

func either(first bool, a, b string) string {
	if first {
		return a
	}
	return b
}
