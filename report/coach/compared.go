package coach

import (
	"fmt"
	"math"
	"strings"

	"cogledger/analysis/doubt"
	"cogledger/analysis/shifts"
	"cogledger/analysis/trend"
)

// A comparison is the part on what has changed.
type comparison struct {
	Sentence string
	Groups   string
	Rows     []changeRow
	Method   string
	Notes    []string
}

type changeRow struct {
	Name, Before, After, Difference, Verdict string
	Called                                   bool
}

const mostRows = 4

func compared(c trend.Comparison, u units) *comparison {
	out := &comparison{
		Groups: fmt.Sprintf("%s (%s) before, %s (%s) after.", plural(c.Before.Rides, "ride", "rides"), u.distance(c.Before.Distance), plural(c.After.Rides, "ride", "rides"), u.distance(c.After.Distance)),
		Method: "Less is better. The first two lines are corrected for hills, load and assist: a hilly week is not a bad one. Ranges in brackets hold in nine cases of ten; a change is called only where chance makes one as large in at most 1 of 20 cases.",
	}
	better, worse := 0, 0
	for _, ch := range rows(c) {
		switch ch.Verdict {
		case trend.Improved:
			better++
		case trend.Worse:
			worse++
		}
		out.Rows = append(out.Rows, rowOf(ch, u))
	}
	out.Sentence = summary(better, worse, len(out.Rows))
	if g := ground(c, u); g != "" {
		out.Groups += " " + g
	}
	for _, n := range c.Notes {
		text := n.Text
		if n.Cure != "" {
			text += "; " + n.Cure
		}
		out.Notes = append(out.Notes, text+".")
	}
	return out
}

func summary(better, worse, rows int) string {
	switch {
	case rows == 0:
		return "The logs do not tell enough to compare."
	case better > 0 && worse == 0:
		return "It has become better where it says so; the rest is within what chance does."
	case worse > 0 && better == 0:
		return "Some figures have risen; the lines say which. The steps above are where to begin."
	case better > 0:
		return "Some figures are better and some are not; the lines say which."
	}
	return "No change stands out from what chance does from week to week."
}

// rows picks the two main figures, then the habits that changed, then the
// others, as many as fit.
func rows(c trend.Comparison) []trend.Change {
	var first, called, rest []trend.Change
	for _, ch := range c.Changes {
		switch {
		case ch.Key == trend.LuggingShare || ch.Key == trend.EnergyPerKm:
			first = append(first, ch)
		case ch.Verdict == trend.Improved || ch.Verdict == trend.Worse:
			called = append(called, ch)
		case ch.Before.Value > 0 || ch.After.Value > 0:
			rest = append(rest, ch)
		}
	}
	all := append(append(first, called...), rest...)
	return all[:min(len(all), mostRows)]
}

func rowOf(ch trend.Change, u units) changeRow {
	print := fixed
	difference := func(v float64, digits int) string {
		s := print(v, digits)
		if v > 0 && strings.Trim(s, "0.") != "" {
			return "+" + s
		}
		return s
	}
	return changeRow{
		Name:   changeName(ch.Key, ch.Unit, u),
		Before: rounded(reader(ch.Before, ch.Unit, u), print), After: rounded(reader(ch.After, ch.Unit, u), print),
		Difference: rounded(reader(ch.Difference, ch.Unit, u), difference),
		Verdict:    ch.Verdict.String(),
		Called:     ch.Verdict == trend.Improved || ch.Verdict == trend.Worse,
	}
}

// reader turns a figure into the unit of the reader: shares into per cent, Wh/km
// into what the page uses.
func reader(f doubt.Figure, unit string, u units) doubt.Figure {
	factor := 1.0
	switch unit {
	case "share":
		factor = 100
	case "Wh/km":
		factor, _ = u.perDistance(1)
	}
	return doubt.Figure{Value: factor * f.Value, Low: factor * f.Low, High: factor * f.High, Basis: f.Basis}
}

func changeName(key, unit string, u units) string {
	switch key {
	case trend.LuggingShare:
		return "Motor labouring, % of its working time"
	case trend.EnergyPerKm:
		_, name := u.perDistance(0)
		return "Battery energy, " + name
	}
	name := habitName(key)
	if unit == "share" {
		return name + ", % of chances"
	}
	return name + ", times in 10 km"
}

func habitName(kind string) string {
	switch kind {
	case shifts.TallStart:
		return "Pulling away in a hard gear"
	case shifts.LateDownShift:
		return "Shifting down late"
	case shifts.OneGear:
		return "Staying in one gear"
	case shifts.SpinningOut:
		return "Motor turning too fast"
	case shifts.FullAssist:
		return "Full assist on steep ground"
	case shifts.HardBursts:
		return "Hard bursts of current"
	case shifts.ShiftUnderLoad:
		return "Shifting under load"
	}
	return kind
}

// ground says how the uncorrected figure moved, and how much of that is the
// ground.
func ground(c trend.Comparison, u units) string {
	before, after := c.Before, c.After
	if math.IsNaN(before.WhPerKm) || math.IsNaN(after.WhPerKm) || math.IsNaN(before.BestPerKm) || math.IsNaN(after.BestPerKm) {
		return ""
	}
	a, name := u.perDistance(before.WhPerKm)
	b, _ := u.perDistance(after.WhPerKm)
	road, _ := u.perDistance(after.BestPerKm - before.BestPerKm)
	return fmt.Sprintf("As metered, %s and then %s %s; of the difference, %s comes with road, load and assist.", fixed(a, 1), fixed(b, 1), name, signed(road))
}

func signed(v float64) string {
	s := fixed(v, 1)
	if v > 0 && s != "0.0" {
		return "+" + s
	}
	return s
}
