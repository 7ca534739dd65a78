// Package coach prints one page for the rider: what to do, in the rider's own
// numbers, and what has changed since the last rides.
//
// Like the report it computes no figure of its own; it takes them from
// lesson.Lesson and trend.Comparison. It scolds nobody, and explains each word
// of the trade that it uses.
package coach

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"time"
	"unicode/utf8"

	"cogledger/analysis"
	"cogledger/analysis/lesson"
	"cogledger/analysis/trend"
	"cogledger/ingest/ride"
)

// Paper is the sheet that the page is set on.
type Paper string

// The papers.
const (
	A4     Paper = "A4"
	Letter Paper = "Letter"
)

// ParsePaper reads the name of a paper in any case.
func ParsePaper(name string) (Paper, error) {
	switch name {
	case "a4", "A4", "":
		return A4, nil
	case "letter", "Letter", "LETTER":
		return Letter, nil
	}
	return "", fmt.Errorf("paper %q: write a4 or letter", name)
}

// Options are the wishes of who prints the page. The zero value is A4, metric.
type Options struct {
	Paper    Paper
	Imperial bool
	Now      time.Time // of printing; left out when zero
}

//go:embed page.gohtml
var pageTemplate string

//go:embed style.css
var styleSheet string

// HTML writes the page. The set holds the rides to learn from: the later ones
// where two groups are compared. c is nil where there is one group only.
func HTML(w io.Writer, set *analysis.Set, c *trend.Comparison, o Options) error {
	if set == nil || len(set.Rides) == 0 {
		return fmt.Errorf("coach page: there is no ride to learn from")
	}
	t, err := template.New("page").Parse(pageTemplate)
	if err != nil {
		return fmt.Errorf("coach page: template: %w", err)
	}
	return t.Execute(w, newPage(set, c, o))
}

// A page is what the template is filled with: words and drawings, all ready.
type page struct {
	Style    template.CSS
	Policy   string
	Paper    Paper
	Bike     string
	Facts    string
	Made     bool
	Opening  string
	Steps    []step
	Worth    string
	Pictures []picture
	Before   *comparison
	Limits   []string // what the logs could not tell
	Words    []word
	Now      string
}

// A step is one thing to do, and why, in the rider's own numbers.
type step struct{ Do, Why string }

type picture struct {
	Title, Caption string
	Drawing        template.HTML
}

type word struct{ Term, Meaning string }

func newPage(set *analysis.Set, c *trend.Comparison, o Options) page {
	if o.Paper == "" {
		o.Paper = A4
	}
	u := units{imperial: o.Imperial}
	l := lesson.From(set)
	g := gearWords{set.Bike.Gears()}
	p := page{Paper: o.Paper, Bike: short(set.Bike.Name, 60), Facts: facts(l, u), Made: simulated(set)}
	p.Style = template.CSS(fmt.Sprintf("@page{size:%s;margin:11mm 13mm}\n", o.Paper) + styleSheet)
	p.Policy = policy(string(p.Style))
	p.Steps = steps(l, g, u)
	p.Opening = opening(l, p.Steps)
	p.Worth = worth(l, u)
	p.Pictures = pictures(l, g, u)
	if c != nil {
		p.Before = compared(*c, u)
		if d := drawChanges(*c, u); d != "" {
			p.Pictures = append(p.Pictures, picture{Title: "Before and after", Caption: "The bars span the range that holds in nine cases of ten. Less is better.", Drawing: d})
		}
	}
	p.Limits = limits(set, l)
	p.Words = words(l)
	if !o.Now.IsZero() {
		p.Now = o.Now.Format("2 January 2006")
	}
	return p
}

func simulated(set *analysis.Set) bool {
	for _, res := range set.Rides {
		for _, s := range res.Ride.Sources {
			if s.Made {
				return true
			}
		}
	}
	return false
}

// short cuts a text from a log or a profile to fit its line.
func short(s string, most int) string {
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return string([]rune(s)[:most-1]) + "…"
}

// limits tells what the logs lack that would say more.
func limits(set *analysis.Set, l lesson.Lesson) []string {
	var volts, cadence bool
	for _, res := range set.Rides {
		volts = volts || res.Ride.Has(ride.BatteryAmps) || res.Ride.Has(ride.MotorPower)
		cadence = cadence || res.Ride.Has(ride.CadenceRPM)
	}
	var all []string
	if !volts {
		all = append(all, "The logs hold neither battery volts and amperes nor the motor's power. What the motor gave is worked out from hill and speed, so take the figures as a rough guide.")
	}
	if cadence && l.GearsKnown < 0.8 {
		all = append(all, fmt.Sprintf("In %s of the pedalling the gear in use could be told. Are the teeth in the bike's profile right?", percent(l.GearsKnown)))
	}
	if !cadence {
		all = append(all, "The logs hold no cadence (how fast the legs turn), so the gears in use are not known. A cadence sensor would tell them.")
	}
	return all
}
