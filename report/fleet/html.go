package fleet

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"math"
	"time"

	"cogledger/analysis/fleet"
)

//go:embed page/page.gohtml
var pageTemplate string

//go:embed page/style.css
var styleSheet string

//go:embed page/tables.js
var tableScript string

// Options are the wishes of who asks for the page.
type Options struct {
	Title string    // "Fleet report" when empty
	Now   time.Time // when it was made; left out when zero
}

// HTML writes the page on a fleet: one file that needs no network. With its
// script, tables can be sorted and filtered; without, it shows their first
// rows.
func HTML(w io.Writer, s *fleet.Summary, o Options) error {
	t, err := template.New("page").Parse(pageTemplate)
	if err != nil {
		return fmt.Errorf("fleet page: template: %w", err)
	}
	p, err := newPage(s, o)
	if err != nil {
		return fmt.Errorf("fleet page: %w", err)
	}
	return t.Execute(w, p)
}

// A page is what the template is filled with: words, tables and drawings, all
// ready.
type page struct {
	Title, Written string
	Policy         string
	Style          template.CSS
	Script         template.JS
	Facts          []string
	Made, Private  bool
	Least          int64
	Empty          bool

	Sentence string
	Asides   []string
	Figures  []figure

	Batteries *grid
	Heat      *grid
	Bikes     *grid
	Riders    *grid
	NoRiders  string
	Groups    *grid
	Hidden    string
	GroupWays []groupWays
	Habits    *grid
	Places    *grid
	Map       template.HTML
	Trend     template.HTML
	TrendSays string
	Problems  *grid
	Method    []string
}

type figure struct{ Name, Value, Note string }

// groupWays are the dearest habits of a group, in words.
type groupWays struct {
	Name   string
	Habits []string
}

func newPage(s *fleet.Summary, o Options) (page, error) {
	p := page{
		Title: o.Title, Style: template.CSS(styleSheet), Script: template.JS(tableScript),
		Policy:  "default-src 'none'; script-src " + hash(tableScript) + "; style-src " + hash(styleSheet) + "; img-src data:; base-uri 'none'; form-action 'none'",
		Private: s.Options.Private, Least: s.Options.Least(),
		Made: s.All.Made > 0, Empty: s.All.Rides == 0,
	}
	if p.Title == "" {
		p.Title = "Fleet report"
	}
	if !o.Now.IsZero() {
		p.Written = o.Now.Format("2 January 2006")
	}
	p.Facts = facts(s)
	p.Problems = problemGrid(s)
	if p.Empty {
		return p, p.load()
	}
	p.Sentence, p.Asides = answer(s)
	p.Figures = figures(s)
	p.Batteries, p.Heat = batteryGrid(s), heatGrid(s)
	p.Bikes = lineGrid("bikes", "bike", s.Bikes, s)
	p.Riders = lineGrid("riders", "rider", s.Riders, s)
	if s.RidersHidden {
		p.NoRiders = fmt.Sprintf("Fewer than %d riders are known, so that none is listed.", p.Least)
	}
	p.Groups, p.GroupWays = groupGrid(s), ways(s)
	if s.HiddenGroups > 0 {
		p.Hidden = fmt.Sprintf("%s left out: fewer than %d bikes, or riders, stand behind each.", plural(s.HiddenGroups, "group is", "groups are"), p.Least)
	}
	p.Habits = habitGrid(s)
	p.Places, p.Map = placeGrid(s), drawMap(s.Places)
	p.Trend, p.TrendSays = drawTrend(s.Trend), trendWords(s.Trend)
	p.Method = method(s)
	return p, p.load()
}

// load gives each grid its data for the script.
func (p *page) load() error {
	for _, g := range []*grid{p.Batteries, p.Heat, p.Bikes, p.Riders, p.Groups, p.Habits, p.Places, p.Problems} {
		if g == nil {
			continue
		}
		data, err := json.Marshal(g.data())
		if err != nil {
			return err
		}
		g.JSON = template.JS(data)
	}
	return nil
}

// hash is a source expression of the content security policy.
func hash(code string) string {
	digest := sha256.Sum256([]byte(code))
	return "'sha256-" + base64.StdEncoding.EncodeToString(digest[:]) + "'"
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
