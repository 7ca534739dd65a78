package trend

import (
	"math"

	"cogledger/analysis/doubt"
	"cogledger/ingest/ride"
)

// A Verdict says what the statistics carry. In every figure here less is
// better.
type Verdict uint8

const (
	CannotTell Verdict = iota
	Improved
	NoChange // the change is smaller than the margin, as far as chance can hide it
	Worse
)

func (v Verdict) String() string {
	return [...]string{"cannot tell", "improved", "no change", "worse"}[v]
}

// A Change is one figure before and after.
type Change struct {
	Key           string // LuggingShare, EnergyPerKm or the kind of a habit
	Unit          string // "share" (0..1), "Wh/km" or "in 10 km"
	Before, After doubt.Figure
	Difference    doubt.Figure // after less before
	Margin        float64      // differences smaller than this do not matter
	Chance        float64      // how often chance alone makes a difference as striking in any of the figures, 0..1
	Overlap       float64      // how much of the ground both sides share, 0..1
	Verdict       Verdict
}

// A Comparison is two groups of rides side by side.
type Comparison struct {
	Before, After Group
	Changes       []Change // the two main figures first, then habits; figures that nothing tells are left out
	Resamples     int
	Seed          uint64
	Notes         []ride.Note
}

// Change finds a figure by its key.
func (c *Comparison) Change(key string) (Change, bool) {
	for _, ch := range c.Changes {
		if ch.Key == key {
			return ch, true
		}
	}
	return Change{}, false
}

// A Group is what the rides of one side add up to.
type Group struct {
	Rides     int
	Distance  float64 // m
	Ascent    float64 // m, over the rides that know it
	WhPerKm   float64 // as metered, not corrected for ground; NaN where nothing tells
	BestPerKm float64 // what the best gears would have needed there: this differs with ground, load and assist
}

// Options steer the resampling. The zero value is what the reports use.
type Options struct {
	Resamples int    // 0 is 4000
	Seed      uint64 // of the resampling; the same seed gives the same answer
}

func (o Options) resamples() int {
	if o.Resamples > 0 {
		return o.Resamples
	}
	return 4000
}

const (
	callAt       = 0.05 // family-wise rate of false calls
	leastOverlap = 0.5  // of the ground, below which "no change" is not claimed
)

// Compare sets the rides after against the rides before.
func Compare(before, after []Ride, o Options) Comparison {
	rides := append(append([]Ride(nil), before...), after...)
	c := Comparison{Before: group(before), After: group(after), Resamples: o.resamples(), Seed: o.Seed}
	var told []*score
	for _, s := range scores(rides, len(before)) {
		if !math.IsNaN(s.of(span(0, len(before)))) && !math.IsNaN(s.of(span(len(before), len(rides)))) {
			told = append(told, s)
		}
	}
	basis := doubt.Measured
	for _, r := range rides {
		basis = basis.Weaker(r.Basis)
	}
	chances := shuffle(told, len(rides), len(before), o)
	for k, s := range told {
		ch := compare(s, len(before), len(rides), o)
		ch.Chance = chances[k]
		ch.Verdict = verdict(ch)
		for _, f := range []*doubt.Figure{&ch.Before, &ch.After, &ch.Difference} {
			f.Basis = basis
		}
		c.Changes = append(c.Changes, ch)
	}
	c.Notes = remarks(c)
	return c
}

// verdict calls no change where the whole interval is inside the margin, on
// ground that both sides share: a change that is there but too small to matter
// is none. Otherwise it calls a change where interval and shuffle agree.
func verdict(c Change) Verdict {
	d := c.Difference
	switch {
	case math.IsNaN(d.Low) || math.IsNaN(d.High):
		return CannotTell
	case d.Low > -c.Margin && d.High < c.Margin:
		if c.Overlap >= leastOverlap {
			return NoChange
		}
	case c.Chance <= callAt && d.High < 0:
		return Improved
	case c.Chance <= callAt && d.Low > 0:
		return Worse
	}
	return CannotTell
}

func group(rides []Ride) Group {
	g := Group{Rides: len(rides)}
	var wh, metres, planned, best float64
	for _, r := range rides {
		g.Distance += r.Distance
		if !math.IsNaN(r.Ascent) {
			g.Ascent += r.Ascent
		}
		wh += r.MeteredWh
		metres += r.MeteredMetres
		for _, c := range r.Cells {
			planned += c.Wh
			best += c.BestWh
		}
	}
	g.WhPerKm = per(wh, metres) * 1000
	g.BestPerKm = g.WhPerKm * per(best, planned)
	return g
}

// remarks says what limits the comparison.
func remarks(c Comparison) []ride.Note {
	var notes []ride.Note
	if few := min(c.Before.Rides, c.After.Rides); few < 4 {
		notes = append(notes, ride.Note{
			Text: "with so few rides on one side chance alone makes large differences, so a change can hardly be told",
			Cure: "log at least four rides on each side",
		})
	}
	for _, ch := range c.Changes {
		if ch.Overlap < leastOverlap {
			notes = append(notes, ride.Note{
				Text: "the two groups of rides were ridden on different ground (grade and motor power), so they can hardly be compared",
				Cure: "ride some of the same roads on both sides",
			})
			break
		}
	}
	return notes
}

// span lists from, from+1, ... to-1.
func span(from, to int) []int {
	s := make([]int, 0, to-from)
	for i := from; i < to; i++ {
		s = append(s, i)
	}
	return s
}
