package report

import (
	"fmt"
	"html/template"
	"strings"
	"time"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/ingest/ride"
)

// A ridePart is one ride's part of the page.
type ridePart struct {
	ID, Heading string
	Facts       []string
	Made        bool
	Motor       bool    // what the motor did is told
	Answer      *answer // nil when the page's own answer is this ride's
	Shares      []share
	Legs        string // how the legs did beside the motor
	ClassTable  table
	Rule        *rulePart
	Strip       stripPart
	Map         mapPart
	Spots       *table
	Habits      *table
	Worked      motorPart
	Flow        flowPart
	Gears       *table
	Starts      *startsPart
	Replays     *table
	Fittings    *fittingsPart
	Match       *matchPart
	Channels    table
	Assumptions *table
	Notes       []note
}

// A share is one piece of the bar of classes, From and Width in per cent.
type share struct {
	Ink, Name, Time, Percent, Meaning string
	From, Width                       float64
}

type stripPart struct {
	Hidden      bool // nothing is left to show for privacy
	From, To    int
	Rows        []stripRow
	Still       template.HTML
	Table       table
	Modelled    bool
	RibbonID    string
	RibbonLabel string
}

type stripRow struct {
	ID, Title, Unit, Why, Label string
	Height                      int
	Modelled                    bool
}

type mapPart struct {
	Why     string
	Drawing template.HTML
	ID      string
}

type motorPart struct {
	Why, ID string
	Still   template.HTML
	Table   table
}

type flowPart struct {
	Why           string
	Wide, Narrow  template.HTML
	Battery, Road table
	Unbooked      string
}

func (p *page) ride(v *view, u units, o Options, budget int, oneOfMany bool, shared []analysis.Assumption) (ridePart, error) {
	r := ridePart{ID: v.id, Heading: heading(v.name), Made: v.made(), Motor: v.Bears.Motor.Given(), ClassTable: v.classTable(u), Shares: v.shares(), Legs: v.legsWords()}
	if oneOfMany {
		r.Facts = facts(v.Headline, nil, []*view{v}, u, o)
		a := answerFor(v.Headline, v.Bears, v.Result.Habits, v.Found, []*view{v}, u)
		r.Answer = &a
	}
	var err error
	if r.Strip, err = p.stripPart(v, u, budget); err != nil {
		return r, err
	}
	course := v.course()
	r.Map = mapPart{Why: course.why, ID: v.id + "-map"}
	if course.why == "" {
		r.Map.Drawing = course.draw(v)
		data, err := course.places()
		if err != nil {
			return r, err
		}
		p.Blocks = append(p.Blocks, block{r.Map.ID, template.JS(data)})
	}
	m := v.motorMap()
	r.Worked = motorPart{Why: m.why, ID: v.id + "-motor-map"}
	if m.why == "" {
		drawn := m.heat()
		r.Worked.Still, r.Worked.Table = drawn.draw("Time spent by motor speed and motor power, with the efficient band; the table below has the same in numbers."), m.table()
		if p.Library != "" {
			if err := p.add(drawn.chart(r.Worked.ID)); err != nil {
				return r, err
			}
		}
	}
	r.Flow = v.flowPart()
	r.Spots = unlessEmpty(v.spotTable(u))
	r.Habits = unlessEmpty(habitTable(v.Result.Habits, u))
	r.Gears = unlessEmpty(v.gearTable(u))
	r.Rule, r.Starts, r.Fittings = v.rule(u), v.starts(u), v.fittings(u)
	r.Replays = unlessEmpty(v.replayTable(u))
	r.Channels = v.channelTable()
	r.Assumptions = unlessEmpty(assumptionTable(without(v.Assumptions, shared)))
	r.Match = v.match(u)
	r.Notes = notes(unmatched(v.Notes, v.Ride.Match), o, v.Ride.Sources)
	return r, nil
}

func unlessEmpty(t table) *table {
	if len(t.Rows) == 0 {
		return nil
	}
	return &t
}

func (p *page) stripPart(v *view, u units, budget int) (stripPart, error) {
	s := stripPart{From: v.from, To: v.to, Hidden: v.to-v.from < 2, RibbonID: v.id + "-ribbon"}
	if s.Hidden {
		return s, nil
	}
	clock := v.clockAxis()
	s.Still = v.strip(v.panels(u, 480))
	s.Table = v.stripTable(u)
	s.RibbonLabel = "How the motor ran along the ride; the table of classes has the sums."
	rows := v.panels(u, budget)
	lowest := 0 // the last row that is drawn carries the clock
	for k, row := range rows {
		if row.why == "" {
			lowest = k
		}
	}
	for k, row := range rows {
		id := v.id + "-" + row.key
		height := row.height
		if k == lowest {
			height += clockHeight
		}
		s.Rows = append(s.Rows, stripRow{ID: id, Title: row.title, Unit: row.unit, Why: row.why, Label: row.summary(), Height: height, Modelled: row.fromRoad})
		s.Modelled = s.Modelled || row.fromRoad
		if row.why == "" && p.Library != "" {
			if err := p.add(row.chart(id, clock, k == lowest)); err != nil {
				return s, err
			}
		}
	}
	if p.Library != "" {
		return s, p.add(v.ribbonChart(s.RibbonID, clock))
	}
	return s, nil
}

func (v *view) flowPart() flowPart {
	b := v.Books
	f := flowPart{Wide: flow(b, 720), Narrow: flow(b, 400)}
	if len(b.Battery) == 0 {
		f.Why = v.whyNoMotor()
		return f
	}
	if f.Wide == "" {
		f.Why = "the battery gave nothing, or took more than it gave; the tables have the accounts"
	}
	f.Battery = bookTable("Battery side: from the cells to the wheel", b.Battery, b.BatteryResidual, 1)
	f.Road = bookTable("Wheel side: from motor and legs to the road", b.Wheel, b.WheelResidual, 2)
	if b.UnbookedSeconds > 0 {
		f.Unbooked = fmt.Sprintf("%s of riding are in no account, for lack of data.", upperFirst(spanWords(b.UnbookedSeconds)))
	}
	return f
}

// shares cuts the bar of classes into pieces.
func (v *view) shares() []share {
	total, sum := 0, 0
	for _, c := range v.Classes {
		total += c.Seconds
	}
	var all []share
	for _, c := range classes() {
		s := v.Classes[c].Seconds
		if s == 0 {
			continue
		}
		from := round(float64(sum)/float64(total)*100, 2)
		sum += s
		all = append(all, share{
			Ink: classInk(c), Name: c.String(), Time: span(s), Percent: percent(float64(s) / float64(total)),
			From: from, Width: round(float64(sum)/float64(total)*100-from, 2), Meaning: meaning(c),
		})
	}
	return all
}

// legsWords sums the legs up, which have a band of their own.
func (v *view) legsWords() string {
	total := v.Legs[drive.LegsLugging] + v.Legs[drive.LegsInBand] + v.Legs[drive.LegsSpinning]
	if total == 0 || v.Bike == nil {
		return ""
	}
	part := func(c drive.LegsClass) string { return percent(float64(v.Legs[c]) / float64(total)) }
	s := fmt.Sprintf("The legs have a band of their own, %.0f to %.0f rpm. They pushed below it for %s of the time, within it for %s, above it for %s.",
		v.Bike.Legs.BandRPM[0], v.Bike.Legs.BandRPM[1], part(drive.LegsLugging), part(drive.LegsInBand), part(drive.LegsSpinning))
	if v.BothLug > 0 {
		s += fmt.Sprintf(" For %s motor and legs lugged together.", spanWords(v.BothLug))
	}
	return s
}

// meaning explains a class in plain words.
func meaning(c drive.Class) string {
	return [...]string{
		"The log cannot tell.",
		"The bike stands.",
		"Rolling; neither legs nor motor push.",
		"The legs push, the motor gives under 15 W.",
		"The motor pushes hard while it turns too slowly: more of the battery's energy becomes heat in its winding.",
		"Within three points of the best efficiency that the motor can reach at the power asked of it.",
		"The motor turns faster than its band, or the battery has no volts left for more.",
	}[c]
}

// facts is the line under the heading.
func facts(h analysis.Headline, b *bike.Profile, all []*view, u units, o Options) []string {
	var list []string
	if b != nil && b.Name != "" && o.Title == "" {
		list = append(list, b.Name)
	}
	if first, last := all[0].Ride.Start, all[len(all)-1].Ride.Start; !o.Privacy && !first.IsZero() {
		when := first.Format("Monday, 2 January 2006")
		switch {
		case len(all) > 1 && first.Format(time.DateOnly) == last.Format(time.DateOnly):
		case len(all) > 1 && !last.IsZero():
			when = first.Format("2 January 2006") + " to " + last.Format("2 January 2006")
			if first.Year() == last.Year() {
				when = first.Format("2 January") + " to " + last.Format("2 January 2006")
			}
		default:
			when += first.Format(", 15:04 UTC")
		}
		list = append(list, when)
	}
	if finite(h.Distance) && h.Distance > 0 {
		list = append(list, u.distance.text(h.Distance))
	}
	if h.MovingSeconds > 0 {
		list = append(list, spanWords(h.MovingSeconds)+" moving")
	}
	if finite(h.Ascent) {
		list = append(list, u.height.text(h.Ascent)+" climbed")
	}
	if finite(h.RiderWh.Value) && h.RiderWh.Value > 0 {
		list = append(list, "legs gave "+figure(h.RiderWh, u.energy))
	}
	return list
}

// notes words the warnings. A private report names no files.
func notes(list []ride.Note, o Options, sources []ride.Source) []note {
	var all []note
	for _, n := range list {
		where := strings.TrimSpace(n.File + " " + n.Place)
		text, cure := n.Text, n.Cure
		if o.Privacy {
			where = ""
			for _, f := range append(sources, ride.Source{File: n.File}) {
				for _, secret := range []string{f.File, f.Serial} {
					if secret != "" {
						text, cure = strings.ReplaceAll(text, secret, "the log"), strings.ReplaceAll(cure, secret, "the log")
					}
				}
			}
		}
		short, rest := clip(text, 320)
		all = append(all, note{where, short, rest, cure})
	}
	return all
}

// clip cuts text to a length that can be read at a glance, and returns what was
// cut off.
func clip(text string, most int) (short, rest string) {
	letters := []rune(text)
	if len(letters) <= most {
		return text, ""
	}
	return string(letters[:most]) + "…", string(letters[most:])
}

// heading is a ride's name as far as it fits a heading, without the ending of a
// file's name.
func heading(name string) string {
	for _, ending := range []string{".gz", ".zip", ".fit", ".gpx", ".tcx", ".csv"} {
		if cut := len(name) - len(ending); cut > 0 && strings.EqualFold(name[cut:], ending) {
			name = name[:cut]
		}
	}
	short, _ := clip(name, 140)
	return short
}

// sharedAssumptions are those that all rides have in common.
func sharedAssumptions(all []*view) []analysis.Assumption {
	shared := append([]analysis.Assumption(nil), all[0].Assumptions...)
	for _, v := range all[1:] {
		var kept []analysis.Assumption
		for _, a := range shared {
			if contains(v.Assumptions, a) {
				kept = append(kept, a)
			}
		}
		shared = kept
	}
	return shared
}

func without(list, others []analysis.Assumption) []analysis.Assumption {
	var kept []analysis.Assumption
	for _, a := range list {
		if !contains(others, a) {
			kept = append(kept, a)
		}
	}
	return kept
}

func contains(list []analysis.Assumption, a analysis.Assumption) bool {
	for _, b := range list {
		if a == b {
			return true
		}
	}
	return false
}
