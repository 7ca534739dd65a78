package report

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"strings"

	"cogledger/analysis"
	"cogledger/report/script"
)

//go:embed page/page.gohtml
var pageTemplate string

//go:embed page/style.css
var styleSheet string

//go:embed page/start.js
var startScript string

// A page is what the template is filled with: words, tables and drawings, all
// ready. The template computes nothing.
type page struct {
	Title, Kicker string
	Facts         []string
	Made          bool
	Policy        string
	Style         template.CSS
	Library       template.JS // empty in a build without the chart library
	Start         template.JS
	Answer        answer
	Trend         *trendPart
	Weeks         *weeksPart
	Habits        *table
	Rides         []ridePart
	Assumptions   *table
	Notes         []note
	Written       string // when the report was made
	Blocks        []block
	Private       bool
}

// A block is data for the start script.
type block struct {
	ID   string
	JSON template.JS
}

// A note is a warning in the page; Rest is what of a long text is folded away.
type note struct{ Where, Text, Rest, Cure string }

// HTML writes the report of a set of rides as one page that needs no network.
func HTML(w io.Writer, set *analysis.Set, o Options) error {
	library, _ := script.Source()
	return writePage(w, set, o, library)
}

// writePage writes the page around the code of the chart library; without the
// code the charts are drawn ones.
func writePage(w io.Writer, set *analysis.Set, o Options, library string) error {
	if len(set.Rides) == 0 {
		return fmt.Errorf("report: there is no ride to report on")
	}
	p, err := newPage(set, o, library)
	if err != nil {
		return err
	}
	return p.write(w)
}

// shell is an empty page with its style, scripts and policy.
func shell(title, library string) page {
	p := page{Title: title, Style: template.CSS(styleSheet), Start: template.JS(startScript), Library: template.JS(library)}
	hashes := []string{hash(startScript)}
	if library != "" {
		hashes = append(hashes, hash(library))
	}
	p.Policy = "default-src 'none'; script-src " + strings.Join(hashes, " ") + "; style-src " + hash(styleSheet) +
		"; img-src data:; base-uri 'none'; form-action 'none'"
	return p
}

// hash is a source expression of the content security policy.
func hash(code string) string {
	digest := sha256.Sum256([]byte(code))
	return "'sha256-" + base64.StdEncoding.EncodeToString(digest[:]) + "'"
}

func (p page) write(w io.Writer) error {
	t, err := template.New("page").Parse(pageTemplate)
	if err != nil {
		return fmt.Errorf("report: page template: %w", err)
	}
	return t.Execute(w, p)
}

// add puts a chart's options into the page.
func (p *page) add(c chart) error {
	data, err := c.block()
	if err != nil {
		return err
	}
	p.Blocks = append(p.Blocks, block{c.id, template.JS(data)})
	return nil
}

func newPage(set *analysis.Set, o Options, library string) (page, error) {
	u := newUnits(o.Imperial)
	all := views(set, o)
	p := shell(pageTitle(set, all, o), library)
	p.Kicker = "Ride review"
	if len(all) > 1 {
		p.Kicker = fmt.Sprintf("Review of %d rides", len(all))
	}
	p.Private = o.Privacy
	if !o.Now.IsZero() && !o.Privacy {
		p.Written = o.Now.Format("2 January 2006, 15:04 MST")
	}
	for _, v := range all {
		p.Made = p.Made || v.made()
	}
	headline, bears, habits, rule := set.Total, set.Bears, set.Habits, set.Found
	if len(all) == 1 {
		headline, bears, habits, rule = all[0].Headline, all[0].Bears, all[0].Habits, all[0].Found
	}
	p.Facts = facts(headline, set.Bike, all, u, o)
	p.Answer = answerFor(headline, bears, habits, rule, all, u)
	if len(all) > 1 {
		trend, err := p.trend(all, u)
		if err != nil {
			return page{}, err
		}
		p.Trend = &trend
		p.Weeks = weeks(set.Trend, u, o)
		if len(habits) > 0 {
			t := habitTable(habits, u)
			p.Habits = &t
		}
	}
	budget := max(1500, min(12000, 40000/len(all))) // points a row: they keep a week and ten hours under 4 MB
	shared := sharedAssumptions(all)
	for _, v := range all {
		part, err := p.ride(v, u, o, budget, len(all) > 1, shared)
		if err != nil {
			return page{}, err
		}
		p.Rides = append(p.Rides, part)
	}
	if len(shared) > 0 {
		t := assumptionTable(shared)
		p.Assumptions = &t
	}
	p.Notes = notes(set.Notes, o, nil)
	return p, nil
}

func pageTitle(set *analysis.Set, all []*view, o Options) string {
	switch {
	case o.Title != "":
		return o.Title
	case len(all) == 1 && all[0].name != "Ride":
		return heading(all[0].name)
	case set.Bike != nil && set.Bike.Name != "":
		return set.Bike.Name
	default:
		return "Ride review"
	}
}
