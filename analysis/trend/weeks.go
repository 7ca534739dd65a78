package trend

import (
	"fmt"
	"slices"
	"time"

	"cogledger/analysis/doubt"
	"cogledger/ingest/ride"
)

// A Week is what the rides of one week add up to, on the ground that all rides
// share: a week's figures can be set beside another's.
type Week struct {
	Monday  time.Time // 0 h UTC
	Group             // distance, ascent, energy as metered
	Lugging doubt.Figure
	WhPerKm doubt.Figure // corrected for ground, load and assist
}

// A Trend is how the figures go from week to week.
type Trend struct {
	Weeks   []Week      // in order of time; weeks without rides are left out
	Latest  *Comparison // the last week against all earlier ones; nil with fewer than two weeks
	Undated int         // rides whose logs have no absolute time
	Notes   []ride.Note
}

// Weeks sorts rides into weeks that begin on Monday, 0 h UTC.
func Weeks(rides []Ride, o Options) Trend {
	var t Trend
	var dated []Ride
	for _, r := range rides {
		if r.Start.IsZero() {
			t.Undated++
			continue
		}
		dated = append(dated, r)
	}
	if t.Undated > 0 {
		t.Notes = append(t.Notes, ride.Note{
			Text: fmt.Sprintf("%d of %d rides have no absolute time and are in no week", t.Undated, len(rides)),
		})
	}
	slices.SortStableFunc(dated, func(a, b Ride) int { return a.Start.Compare(b.Start) })
	if len(dated) == 0 {
		return t
	}
	both := scores(dated, 0)[:2]
	from := 0
	for to := range len(dated) + 1 {
		if to < len(dated) && monday(dated[to].Start).Equal(monday(dated[from].Start)) {
			continue
		}
		w := Week{Monday: monday(dated[from].Start), Group: group(dated[from:to])}
		for _, s := range both {
			f := resample(s, span(from, to), o, 1).figure()
			for _, r := range dated[from:to] {
				f.Basis = f.Basis.Weaker(r.Basis)
			}
			if s.key == LuggingShare {
				w.Lugging = f
			} else {
				w.WhPerKm = f
			}
		}
		t.Weeks = append(t.Weeks, w)
		from = to
	}
	if k := len(t.Weeks); k > 1 {
		last := len(dated) - t.Weeks[k-1].Rides
		c := Compare(dated[:last], dated[last:], o)
		t.Latest = &c
	}
	return t
}

func monday(t time.Time) time.Time {
	t = t.UTC()
	day := time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
	return day.AddDate(0, 0, -(int(day.Weekday())+6)%7)
}
