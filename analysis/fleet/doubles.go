package fleet

import (
	"cmp"
	"slices"
	"time"
)

// A Span is when a ride was, and what tells which of two logs of it is richer.
type Span struct {
	Content     string
	Part        int64
	Path        string
	Bike, Rider string
	Start       time.Time
	Seconds     int64
	DistanceM   float64
	Basis       string // of the motor's energy
}

// A Double is a ride that another log holds too.
type Double struct {
	Span
	Of string // path of the log that is counted instead
}

const (
	sameTime  = 0.8  // of the shorter ride must lie in the longer one
	wholeTime = 0.5  // of the longer ride a log must hold to be preferred for what it measured
	sameWay   = 1.15 // most that two logs of one ride differ by in mean speed or distance
)

// Doubles finds rides on one bike at the same time, of which at least one was
// not another ride: a cut upload beside the whole, or two devices. Where the
// two agree in rider and in speed, the richer one is kept. Common practice; a
// bike cannot be ridden twice at once, but a clock may be wrong.
func Doubles(rides []Span) []Double {
	rides = slices.Clone(rides)
	slices.SortFunc(rides, func(a, b Span) int {
		if richer(a, b) {
			return -1
		}
		if richer(b, a) {
			return 1
		}
		return cmp.Or(cmp.Compare(a.Path, b.Path), cmp.Compare(a.Part, b.Part))
	})
	kept := make(map[string][]Span) // by bike
	var doubles []Double
	for _, r := range rides {
		i := slices.IndexFunc(kept[r.Bike], func(k Span) bool { return same(k, r) })
		if i < 0 {
			kept[r.Bike] = append(kept[r.Bike], r)
			continue
		}
		doubles = append(doubles, Double{r, kept[r.Bike][i].Path})
	}
	slices.SortFunc(doubles, func(a, b Double) int { return cmp.Or(cmp.Compare(a.Path, b.Path), cmp.Compare(a.Part, b.Part)) })
	return doubles
}

// richer tells which of two rides tells more: the one whose log measured what
// the other modelled, weighed by how long it is.
func richer(a, b Span) bool {
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

// same reports whether two rides are one.
func same(a, b Span) bool {
	if a.Bike != b.Bike || a.Content == b.Content || a.Rider != b.Rider && a.Rider != "" && b.Rider != "" {
		return false
	}
	from, to := later(a.Start, b.Start), earlier(end(a), end(b))
	shorter, longer := a, b
	if b.Seconds < a.Seconds {
		shorter, longer = b, a
	}
	if to.Sub(from).Seconds() < sameTime*float64(shorter.Seconds) || shorter.Seconds <= 0 {
		return false
	}
	// The part of a ride may be its hill: its speed may differ more, but it
	// cannot be longer than the whole.
	if !(shorter.DistanceM <= sameWay*longer.DistanceM) {
		return false
	}
	if float64(shorter.Seconds) < sameTime*float64(longer.Seconds) {
		return true
	}
	return longer.DistanceM*sameTime <= sameWay*shorter.DistanceM
}

func end(s Span) time.Time { return s.Start.Add(time.Duration(s.Seconds) * time.Second) }

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}
