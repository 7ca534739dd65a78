package ingest

import (
	"math"
	"slices"
	"time"

	"cogledger/ingest/ride"
)

// An Inspection tells what a log holds.
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
