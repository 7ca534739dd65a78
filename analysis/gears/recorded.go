package gears

import (
	"fmt"
	"slices"

	"cogledger/ingest/ride"
)

// records are the bike's own reports of its gear, second by second.
type records struct {
	rung, ring []int8 // of the gear reported last, -1 where not known
	since      []int  // seconds since the last report
	lag        int    // s by which the report leads what the log shows
}

// recall puts the reports on the ride's clock. Of several in one second the
// last counts. Numbers are trusted above teeth, which a rider types in.
func recall(shifts []ride.RecordedShift, seconds int, cogs, rings []int) *records {
	sorted := slices.Clone(shifts)
	slices.SortStableFunc(sorted, func(a, b ride.RecordedShift) int {
		switch {
		case a.Second < b.Second:
			return -1
		case a.Second > b.Second:
			return 1
		}
		return 0
	})
	c := &records{rung: make([]int8, seconds), ring: make([]int8, seconds), since: make([]int, seconds)}
	next, rung, ring, since := 0, int8(-1), int8(-1), seconds
	if len(rings) == 1 {
		ring = 0
	}
	for t := range seconds {
		since++
		for next < len(sorted) && sorted[next].Second < float64(t+1) {
			if k := standingAt(sorted[next].RearNumber, sorted[next].RearTeeth, cogs); k >= 0 {
				rung, since = k, 0
			}
			if len(rings) > 1 {
				if k := standingAt(sorted[next].FrontNumber, sorted[next].FrontTeeth, rings); k >= 0 {
					ring, since = k, 0
				}
			}
			next++
		}
		c.rung[t], c.ring[t], c.since[t] = rung, ring, since
	}
	return c
}

// standingAt is where a report stands among the sprockets, given in the order of
// their numbers; -1 where it names none of them.
func standingAt(number, teeth int, sprockets []int) int8 {
	if number >= 1 && number <= len(sprockets) {
		return int8(number - 1)
	}
	return int8(slices.Index(sprockets, teeth))
}

// Reports serve as evidence when at least this share of at least that many
// seconds agrees with what speed and cadence say by themselves.
const (
	trustedShare   = 0.95
	trustedSeconds = 60
	longestReport  = 6 // s from a report to what the log shows of it
)

// agree finds the lag at which the reports agree best with the named gears,
// and returns the share that agrees and the seconds compared.
func (c *records) agree(f *Inference, e *evidence, rungs int) (share float64, seconds int) {
	for lag := range longestReport + 1 {
		same, n := 0, 0
		for t := lag; t < len(f.Index); t++ {
			g := f.Index[t]
			if g == Unknown || c.rung[t-lag] < 0 || !e.pedalling(t) {
				continue
			}
			n++
			if g%rungs == int(c.rung[t-lag]) && (c.ring[t-lag] < 0 || g/rungs == int(c.ring[t-lag])) {
				same++
			}
		}
		if n > 0 && float64(same) > share*float64(n) {
			share, seconds, c.lag = float64(same)/float64(n), n, lag
		}
	}
	return share, seconds
}

// testify makes the reports part of the view: gears change about reports, and
// some seconds after one the gear reported is the likely one.
func (c *records) testify(v *view) {
	v.told = make([]told, len(v.kind))
	for t := range v.told {
		v.told[t] = told{ring: -1, rung: -1, pace: 0.1}
		if t < c.lag {
			continue
		}
		at := t - c.lag
		soon := at+3 < len(c.since) && c.since[at+3] < 3
		if c.since[at] <= 2 || soon {
			v.told[t].pace = 4
		} else {
			v.told[t].ring, v.told[t].rung = c.ring[at], c.rung[at]
		}
	}
}

// recordSure is the least probability of a gear that trusted reports give, away
// from their events.
const recordSure = 0.995

// decide names the seconds further than 2 s from a change by the reports, which
// have proved right: there they know more than a noisy ratio does.
func (c *records) decide(f *Inference, e *evidence, rungs int) {
	for t := c.lag; t < len(f.Best); t++ {
		at := t - c.lag
		rung, ring := int(c.rung[at]), int(c.ring[at])
		soon := at+3 < len(c.since) && c.since[at+3] < 3
		if rung < 0 || ring < 0 || c.since[at] <= 2 || soon || !e.pedalling(t) {
			continue
		}
		g := ring*rungs + rung
		if f.Best[t] != g {
			f.Best[t], f.Probability[t] = g, 0
		}
		f.Probability[t] = max(f.Probability[t], recordSure)
	}
}

// told is what the bike's report says of one second.
type told struct {
	ring, rung int8    // -1 where nothing
	pace       float32 // of changes of gear
}

// mistold is how likely a report is wrong.
const mistold = 0.02

func (m *model) hear(s *Sight, w told) {
	s.Pace *= float64(w.pace)
	if w.rung < 0 {
		return
	}
	for g := range s.Held {
		if g%m.chain.Rungs != int(w.rung) || w.ring >= 0 && g/m.chain.Rungs != int(w.ring) {
			s.Held[g] *= mistold
			s.Fresh[g] *= mistold
			s.Slip[g] *= mistold
		}
	}
}

// show fills in the Inference's own column of reports. Where the bike does not
// report its ring, the inferred one stands in.
func (c *records) show(f *Inference, rungs int) {
	f.Recorded = make([]int, len(c.rung))
	for t, rung := range c.rung {
		ring := int(c.ring[t])
		if ring < 0 && f.Best[t] != Unknown {
			ring = f.Best[t] / rungs
		}
		f.Recorded[t] = Unknown
		if rung >= 0 && ring >= 0 {
			f.Recorded[t] = ring*rungs + int(rung)
		}
	}
}

// disagreement tells why the reports were not used.
func disagreement(share float64, seconds int) ride.Note {
	n := ride.Note{
		Text: fmt.Sprintf("the bike's own shift records agree with speed and cadence in %.0f %% of %d seconds: they are shown, not used", 100*share, seconds),
		Cure: "check chainrings and cogs in the profile, and the gears set up on the head unit",
	}
	if seconds < trustedSeconds {
		n.Text = fmt.Sprintf("the bike's own shift records could be compared in %d seconds only: they are shown, not used", seconds)
		n.Cure = ""
	}
	return n
}
