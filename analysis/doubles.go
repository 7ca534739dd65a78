package analysis

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat"

	"cogledger/ingest/ride"
)

// A Span is when a ride was and how far it went: enough to tell whether two logs of
// one bike hold the same ride, as a cut upload beside the whole or two devices do.
type Span struct {
	Start     time.Time // zero where the log has no absolute time
	Seconds   int64
	DistanceM float64
	Basis     string // of the battery's energy: "measured", "derived" or "modelled"
}

const (
	sameTime  = 0.8  // of the shorter ride must lie in the longer one
	wholeTime = 0.5  // of the longer ride a log must hold to be preferred for what it measured
	sameWay   = 1.15 // most that two logs of one ride differ by in mean speed or distance
)

// Same reports whether two logs of one bike are of one ride: they share their time,
// and the shorter is not longer in metres. Common practice; a bike cannot be ridden
// twice at once, but a clock may be wrong.
func (a Span) Same(b Span) bool {
	if a.Start.IsZero() || b.Start.IsZero() {
		return false
	}
	shorter, longer := a, b
	if b.Seconds < a.Seconds {
		shorter, longer = b, a
	}
	from, to := a.Start, a.end()
	if b.Start.After(from) {
		from = b.Start
	}
	if b.end().Before(to) {
		to = b.end()
	}
	if to.Sub(from).Seconds() < sameTime*float64(shorter.Seconds) || shorter.Seconds <= 0 {
		return false
	}
	// The part of a ride may be its hill: its speed may differ more, but it cannot
	// be longer than the whole.
	if !(shorter.DistanceM <= sameWay*longer.DistanceM) {
		return false
	}
	if float64(shorter.Seconds) < sameTime*float64(longer.Seconds) {
		return true
	}
	return longer.DistanceM*sameTime <= sameWay*shorter.DistanceM
}

func (a Span) end() time.Time { return a.Start.Add(time.Duration(a.Seconds) * time.Second) }

// Richer reports whether a tells more than b: the one whose log measured what the
// other modelled, weighed by how long it is.
func (a Span) Richer(b Span) bool {
	worth := func(s Span) float64 {
		if s.Basis == "modelled" {
			return wholeTime * float64(s.Seconds)
		}
		return float64(s.Seconds)
	}
	if x, y := worth(a), worth(b); x != y {
		return x > y
	}
	return a.Basis == "measured" && b.Basis != "measured"
}

// once leaves out the rides that another result holds too, with a note for each.
// The order of the rest stays.
func once(rides []*Result) ([]*Result, []ride.Note) {
	left := make([]bool, len(rides))
	var notes []ride.Note
	for i := range rides {
		for k := range i {
			if left[i] || left[k] || !sameRide(rides[i], rides[k]) {
				continue
			}
			out, kept := i, k
			if rides[i].span().Richer(rides[k].span()) {
				out, kept = k, i
			}
			left[out] = true
			notes = append(notes, doubleNote(rides[out], rides[kept]))
		}
	}
	var distinct []*Result
	for i, res := range rides {
		if !left[i] {
			distinct = append(distinct, res)
		}
	}
	return distinct, notes
}

func doubleNote(out, kept *Result) ride.Note {
	n := ride.Note{
		Text: fmt.Sprintf("%s holds the same ride as %s and is not counted again", origin(out.Ride), origin(kept.Ride)),
	}
	if len(out.Ride.Sources) > 0 {
		n.File = filepath.Base(out.Ride.Sources[0].File)
	}
	for _, c := range out.Ride.Channels() {
		if !kept.Ride.Has(c) {
			n.Cure = fmt.Sprintf("it holds %s, which the other lacks: join the two with --join", c)
			break
		}
	}
	return n
}

func (res *Result) span() Span {
	return Span{Start: res.Ride.Start, Seconds: int64(res.Ride.Len()), DistanceM: res.Headline.Distance, Basis: res.Headline.BatteryWh.Basis.String()}
}

// Copies of one ride whose clock was moved by a time zone have the same speed,
// second by second.
const (
	mostZone   = 14 * time.Hour
	zoneStep   = 15 * time.Minute
	sameLength = 0.02
	sameSpeed  = 0.98 // correlation; two rides over one road stay below 0.9
)

func sameRide(a, b *Result) bool {
	x, y := a.span(), b.span()
	if x.Same(y) {
		return true
	}
	apart := x.Start.Sub(y.Start).Abs()
	if x.Start.IsZero() != y.Start.IsZero() || apart > mostZone || apart%zoneStep != 0 {
		return false
	}
	if math.Abs(float64(x.Seconds-y.Seconds)) > sameLength*float64(max(x.Seconds, y.Seconds)) {
		return false
	}
	var u, v []float64
	for i := range min(a.Ride.Len(), b.Ride.Len()) {
		if s, t := a.Ride.At(ride.Speed, i), b.Ride.At(ride.Speed, i); !math.IsNaN(s) && !math.IsNaN(t) {
			u, v = append(u, s), append(v, t)
		}
	}
	return len(u) >= leastMovingShown && !slices.Equal(u, make([]float64, len(u))) && stat.Correlation(u, v, nil) >= sameSpeed
}
