package report

import (
	"fmt"
	"io"
	"strings"
	"unicode"

	"github.com/jedib0t/go-pretty/v6/text"

	"cogledger/analysis"
	"cogledger/analysis/doubt"
)

// Summary writes a dozen aligned lines for a terminal. Colour is used only if
// the options ask for it.
func Summary(w io.Writer, set *analysis.Set, o Options) error {
	if len(set.Rides) == 0 {
		return fmt.Errorf("report: there is no ride to sum up")
	}
	u := newUnits(o.Imperial)
	all := views(set, o)
	h, habits := set.Total, set.Habits
	if len(all) == 1 {
		h, habits = all[0].Headline, all[0].Habits
	}
	s := summary{colour: o.Colour}
	name := all[0].name
	if len(all) > 1 {
		name = fmt.Sprintf("%d rides", len(all))
	}
	if o.Title != "" {
		name = o.Title
	}
	s.line("", s.bold(tame(name)))
	s.line("", tame(strings.Join(facts(h, set.Bike, all, u, o), ", ")))
	s.line("battery", doubtful(h.BatteryWh, u.energy, "; ", whyUsed(all)))
	if finite(h.WhPerKm.Value) {
		s.line("", doubtful(h.WhPerKm, u.perDistance, "; ", ""))
	}
	s.line("lost to lugging", s.warn(doubtful(h.LuggingLossWh, u.energy, "; ", whyLoss(all)), !nothingWorth(h) && h.LuggingLossWh.Value > 0))
	if finite(h.RangeGainKm.Value) && h.RangeGainKm.Value > 0 {
		s.line("worth in range", doubtful(h.RangeGainKm, u.km(), "; ", ""))
	}
	if finite(h.LuggingShare) {
		s.line("time lugging", percent(h.LuggingShare)+" of the time in which the motor worked")
	}
	hot := doubtful(h.WindingPeakC, u.temperature, "; ", whyLoss(all))
	if finite(h.WindingPeakC.Value) && finite(h.WindingLimitC) {
		hot += ", limit " + u.temperature.text(h.WindingLimitC)
	}
	s.line("hottest winding", s.warn(hot, h.WindingPeakC.Value > h.WindingLimitC))
	s.line("gear known", gearKnown(all))
	if modelled(all) {
		s.line("", "motor power modelled from the road: no battery or motor channels in the log")
	}
	a := answerFor(h, habits, all, u)
	switch {
	case a.Nothing:
		s.line("to do", "nothing worth changing here")
	default:
		for k, t := range a.Things {
			label := ""
			if k == 0 {
				label = "to do"
			}
			s.line(label, fmt.Sprintf("%d. %s (%s)", k+1, tame(t.Text), t.Saving))
		}
	}
	warned := len(set.Notes)
	for _, v := range all {
		warned += len(v.Notes)
	}
	if warned > 0 {
		s.line("warnings", fmt.Sprintf("%d, listed in the report", warned))
	}
	_, err := io.WriteString(w, s.b.String())
	return err
}

type summary struct {
	b      strings.Builder
	colour bool
}

// line writes a label and its text, aligned.
func (s *summary) line(label, words string) {
	fmt.Fprintf(&s.b, "%-16s %s\n", label, strings.NewReplacer("\u00a0", " ", "\u202f", " ").Replace(words))
}

func (s *summary) bold(words string) string {
	if !s.colour {
		return words
	}
	return "\x1b[1m" + words + "\x1b[0m"
}

func (s *summary) warn(words string, yes bool) string {
	if !s.colour || !yes {
		return words
	}
	return "\x1b[33m" + words + "\x1b[0m"
}

// doubtful words a figure with interval and basis on one line.
func doubtful(f doubt.Figure, m measure, apart, why string) string {
	if !finite(f.Value) {
		return unknown + ": " + why
	}
	words := figure(f, m)
	if in := interval(f, m); in != "" {
		words += ", " + in
	}
	return words + apart + f.Basis.String()
}

func gearKnown(all []*view) string {
	named, pedalled := 0, 0
	for _, v := range all {
		named += v.Gears.NamedSeconds
		pedalled += v.Gears.PedallingSeconds
	}
	if pedalled == 0 {
		return unknown + ": " + whyLoss(all)
	}
	return percent(float64(named)/float64(pedalled)) + " of the time pedalling"
}

// tame keeps text from a log on one line of sensible length and without control
// or direction characters, which could rewrite what a terminal shows.
func tame(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) {
			return -1
		}
		return r
	}, s)
	return text.Snip(s, 160, "…")
}
