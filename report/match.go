package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"cogledger/ingest/ride"
)

// A matchPart shows how the log of a second device was laid on the first's.
type matchPart struct {
	Sentence string
	Drawings []matchDrawing
}

type matchDrawing struct {
	Caption string
	Legend  []key
	Drawing template.HTML
}

// match is nil for a log by itself.
func (v *view) match(u units) *matchPart {
	m := v.Ride.Match
	if m == nil {
		return nil
	}
	part := &matchPart{Sentence: v.matchWords(m)}
	if d, ok := v.twoTraces(m, u); ok {
		part.Drawings = append(part.Drawings, d)
	}
	if d, ok := correlogram(m); ok {
		part.Drawings = append(part.Drawings, d)
	}
	return part
}

func (v *view) matchWords(m *ride.Match) string {
	first, second := "the first", "The second log"
	if !v.private && m.First != "" && m.Second != "" {
		first, second = "the first, "+m.First+",", "The second log, "+m.Second+","
	}
	how := "by comparing their " + plain(m.Channel.String())
	if m.ByHand {
		how = "by an offset given by hand"
	}
	s := fmt.Sprintf("%s was laid on the clock of %s %s: it begins %s", second, first, how, laterBy(m.OffsetS))
	if perHour := m.DriftPPM * 3600 / 1e6; math.Abs(perHour) >= 0.005 {
		word := "slow"
		if perHour < 0 {
			word = "fast"
		}
		s += fmt.Sprintf(", and its clock runs %s by %s an hour", word, number(math.Abs(perHour), 2, "s"))
	}
	s += ". "
	switch {
	case !finite(m.Correlation):
		return s + "The two share no channel by which the fit could be judged."
	case m.ByHand && m.Correlation < poorMatch:
		return s + fmt.Sprintf("So laid, the two correlate by %s only. That is a poor fit: they may be logs of two rides.", grouped(m.Correlation, 2))
	}
	s += fmt.Sprintf("So laid, the two correlate by %s", grouped(m.Correlation, correlationDigits(m.Correlation)))
	if finite(m.RunnerUp) {
		s += fmt.Sprintf("; at any other offset by %s at most", grouped(m.RunnerUp, 2))
	}
	return s + "."
}

// poorMatch is the correlation below which two logs are hardly of one ride.
const poorMatch = 0.6

// correlationDigits never let a good fit read as a perfect one.
func correlationDigits(r float64) int {
	digits := 2
	for digits < 5 && r < 1 && round(r, digits) == 1 {
		digits++
	}
	return digits
}

func laterBy(seconds float64) string {
	switch {
	case math.Abs(seconds) < 0.05:
		return "at the same moment"
	case seconds < 0:
		return number(-seconds, 1, "s") + " earlier"
	}
	return number(seconds, 1, "s") + " later"
}

// tracedSeconds is how much of both logs is drawn.
const tracedSeconds = 120

// twoTraces draws both logs over the stretch in which they vary most, where the
// eye sees best whether they fit. A private report leaves it out: the stretch may lie
// at an end of the ride.
func (v *view) twoTraces(m *ride.Match, u units) (matchDrawing, bool) {
	at := liveliest(m.A, m.B, tracedSeconds)
	if v.private || at < 0 {
		return matchDrawing{}, false
	}
	factor, unit := 1.0, m.Channel.Unit()
	if m.Channel == ride.Speed {
		factor, unit = u.speed.factor, u.speed.unit
	}
	end := min(at+tracedSeconds, len(m.A), len(m.B))
	p := plot{xUnit: "s", yUnit: unit, x: niceScale(0, float64(end-at), 6)}
	x := between(0, float64(end-at-1), end-at)
	top := 0.0
	for _, log := range []struct {
		name, ink string
		values    []float64
		thick     bool
	}{{m.First, "plan", m.A, true}, {m.Second, "ink", m.B, false}} {
		name, _ := clip(log.name, 60)
		c := curve{name: name, ink: log.ink, thick: log.thick, x: x, y: scaled(log.values[at:end], factor)}
		if _, high := extent(c.y, 0, len(c.y)); finite(high) {
			top = math.Max(top, high)
		}
		p.curves = append(p.curves, c)
	}
	p.y = niceScale(0, math.Max(top, 1), 4)
	what := plain(m.Channel.String())
	return matchDrawing{
		Caption: fmt.Sprintf("The %s of both logs, over the two minutes in which it varies most.", what), Legend: p.legend(),
		Drawing: p.drawn(360, 190, "trend-still", fmt.Sprintf("The %s of both logs on one clock", what)),
	}, true
}

// liveliest is the first second of the stretch in which both columns vary most
// about their own means there; -1 where no stretch holds both for nine tenths of
// its seconds.
func liveliest(a, b []float64, length int) int {
	n := min(len(a), len(b))
	length = min(length, n)
	var count, sumA, sumB, squares float64
	take := func(i int, sign float64) {
		if finite(a[i]) && finite(b[i]) {
			count += sign
			sumA += sign * a[i]
			sumB += sign * b[i]
			squares += sign * (a[i]*a[i] + b[i]*b[i])
		}
	}
	best, most := -1, 0.0
	for i := range n {
		take(i, 1)
		if i >= length {
			take(i-length, -1)
		}
		if i < length-1 || count < 0.9*float64(length) {
			continue
		}
		if spread := squares - (sumA*sumA+sumB*sumB)/count; spread > most {
			best, most = i-length+1, spread
		}
	}
	return best
}

// correlogram draws the correlation against the offset tried, with the offset
// taken as a dashed line.
func correlogram(m *ride.Match) (matchDrawing, bool) {
	low, high := extent(m.Lags, 0, len(m.Lags))
	least, most := extent(m.Correlations, 0, len(m.Correlations))
	if len(m.Lags) < 3 || len(m.Correlations) != len(m.Lags) || !finite(low) || !finite(most) {
		return matchDrawing{}, false
	}
	p := plot{xUnit: "offset, s", x: niceScale(low, high, 6), y: niceScale(math.Min(0, least), 1, 4), curves: []curve{
		{x: m.Lags, y: m.Correlations, ink: "band"},
		{x: []float64{m.OffsetS, m.OffsetS}, y: []float64{math.Min(0, least), most}, ink: "quiet", dashed: true},
	}}
	return matchDrawing{
		Caption: "How well the two correlate at other offsets; dashed, the one taken.",
		Drawing: p.drawn(360, 190, "trend-still", "Correlation of the two logs against the offset between them"),
	}, true
}

// unmatched leaves out the notes that say again how the logs were joined.
func unmatched(list []ride.Note, m *ride.Match) []ride.Note {
	if m == nil {
		return list
	}
	var kept []ride.Note
	for _, n := range list {
		if !strings.HasPrefix(n.Text, m.Second+" was laid on the clock of "+m.First) {
			kept = append(kept, n)
		}
	}
	return kept
}

// A DocumentMatch tells how the log of a second device was laid on the first's.
type DocumentMatch struct {
	First       string `json:"first" jsonschema:"description=file name; empty in a private report"`
	Second      string `json:"second"`
	Channel     string `json:"channel" jsonschema:"description=that was compared"`
	OffsetS     Number `json:"offset_s" jsonschema:"description=from the first log's start to the second's"`
	DriftPPM    Number `json:"drift_ppm" jsonschema:"description=by which the second clock runs slower"`
	ByHand      bool   `json:"by_hand" jsonschema:"description=the user gave the offset"`
	Correlation Number `json:"correlation"`
	RunnerUp    Number `json:"runner_up" jsonschema:"description=correlation at the best offset elsewhere"`
}

func (v *view) documentMatch() *DocumentMatch {
	m := v.Ride.Match
	if m == nil {
		return nil
	}
	d := &DocumentMatch{m.First, m.Second, m.Channel.String(), Number(m.OffsetS), Number(m.DriftPPM), m.ByHand, Number(m.Correlation), Number(m.RunnerUp)}
	if v.private {
		d.First, d.Second = "", ""
	}
	return d
}
