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
	h, bears, habits, rule := set.Total, set.Bears, set.Habits, set.Found
	if len(all) == 1 {
		h, bears, habits, rule = all[0].Headline, all[0].Bears, all[0].Habits, all[0].Found
	}
	s := summary{colour: o.Colour}
	name := heading(all[0].name)
	if len(all) > 1 {
		name = fmt.Sprintf("%d rides", len(all))
	}
	if o.Title != "" {
		name = o.Title
	}
	s.whole(s.bold(tame(name)))
	s.whole(tame(strings.Join(facts(h, set.Bike, all, u, o), ", ")))
	s.whole("")
	if bears.Motor.Given() {
		s.energy(h, bears, all, u)
	} else {
		s.prose("motor, battery", unknown+": "+lowerFirst(bears.Motor.Sentence()))
	}
	s.gearKnown(bears, all)
	if modelled(all) && finite(h.BatteryWh.Value) {
		s.prose("note", "The motor's power is modelled from the road: the log has no battery or motor channels.")
	}
	s.advice(answerFor(h, bears, habits, rule, all, u))
	for _, n := range notes(set.Notes, o, nil) {
		s.prose("note", tame(strings.TrimSpace(n.Text+". "+upperFirst(n.Cure))))
	}
	warned := 0
	for _, v := range all {
		warned += len(v.Notes)
	}
	if warned > 0 {
		s.row("warnings", fmt.Sprint(warned), "listed in the report", "")
	}
	_, err := io.WriteString(w, s.b.String())
	return err
}

// energy is the motor's and the battery's part.
func (s *summary) energy(h analysis.Headline, bears analysis.Bearing, all []*view, u units) {
	worth, _ := h.WorthChanging()
	s.figure("battery", h.BatteryWh, u.energy, reasonOr(bears.Energy, whyUsed(all)), false)
	if finite(h.WhPerKm.Value) {
		s.figure("for the distance", h.WhPerKm, u.perDistance, "", false)
	}
	s.figure("lost to lugging", h.LuggingLossWh, u.energy, reasonOr(bears.Loss, whyLoss(all)), worth && h.LuggingLossWh.Value > 0)
	if h.RangeGainKm.Value > 0 {
		s.figure("worth in range", h.RangeGainKm, u.km(), "", false)
	}
	if finite(h.LuggingShare) {
		s.row("time lugging", percent(h.LuggingShare), "of the time in which the motor worked", "")
	}
	s.figure("hottest winding", h.WindingPeakC, u.temperature, reasonOr(bears.Drive, whyLoss(all)), h.WindingPeakC.Value > h.WindingLimitC)
	if finite(h.WindingPeakC.Value) && finite(h.WindingLimitC) {
		s.row("its limit", u.temperature.text(h.WindingLimitC), "", "")
	}
}

// A summary is lines under construction: a label, a value, its range, its basis.
type summary struct {
	b      strings.Builder
	colour bool
}

const (
	labelWidth = 17
	valueWidth = 11
	rangeWidth = 30
	lineWidth  = 80
)

func (s *summary) whole(words string) { s.b.WriteString(spaced(words) + "\n") }

func (s *summary) row(label, value, about, basis string) {
	cells := text.Pad(label, labelWidth, ' ') + text.Pad(spaced(value), valueWidth, ' ') + text.Pad(spaced(about), rangeWidth, ' ') + basis
	s.b.WriteString(strings.TrimRight(cells, " ") + "\n")
}

func (s *summary) figure(label string, f doubt.Figure, m measure, why string, warn bool) {
	if !finite(f.Value) {
		s.prose(label, unknown+": "+why)
		return
	}
	value := figure(f, m)
	if m.unit == "°C" || m.unit == "°F" {
		value = m.text(f.Value)
	}
	if s.colour && warn {
		value = "\x1b[33m" + value + "\x1b[0m"
	}
	s.row(label, value, interval(f, m), f.Basis.String())
}

// prose writes words beside a label, broken to the width of a terminal.
func (s *summary) prose(label, words string) {
	for _, l := range strings.Split(text.WrapSoft(spaced(words), lineWidth-labelWidth), "\n") {
		s.b.WriteString(text.Pad(label, labelWidth, ' ') + strings.TrimRight(l, " ") + "\n")
		label = ""
	}
}

func (s *summary) advice(a answer) {
	if a.Nothing {
		s.prose("to do", "Nothing worth changing here.")
		return
	}
	if a.Open {
		s.prose("to do", "Not known: what lugging cost cannot be told from nothing. "+a.Aside)
		return
	}
	label := "to do"
	for k, t := range a.Things {
		s.prose(label, fmt.Sprintf("%d. %s %s.", k+1, tame(t.Text), upperFirst(t.Saving)))
		label = ""
	}
	if len(a.Rule) > 0 {
		s.prose("a rule", strings.Join(a.Rule, " "))
	}
}

func (s *summary) bold(words string) string {
	if !s.colour {
		return words
	}
	return "\x1b[1m" + words + "\x1b[0m"
}

// spaced replaces the tied spaces of typeset text, which some terminals show
// as something else.
func spaced(words string) string {
	return strings.NewReplacer("\u00a0", " ", "\u202f", " ").Replace(words)
}

func (s *summary) gearKnown(bears analysis.Bearing, all []*view) {
	named, pedalled := pedalling(all)
	if pedalled == 0 || !bears.Gears.Given() {
		s.prose("gear", unknown+": "+lowerFirst(sentenceOr(bears.Gears, whyLoss(all))))
		return
	}
	s.row("gear known", percent(float64(named)/float64(pedalled)), "of the time pedalling", "")
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
	return text.Snip(s, 500, "…")
}
