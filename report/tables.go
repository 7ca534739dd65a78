package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"cogledger/analysis"
	"cogledger/analysis/doubt"
	"cogledger/analysis/ledger"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

// A table is ready for printing: every cell is text.
type table struct {
	Caption string
	Columns []column
	Rows    []tableRow
	More    string   // what the table leaves out
	Notes   []string // on single rows
}

type column struct {
	Name    string
	Numeric bool
}

type tableRow struct {
	ID    string
	Cells []cell
}

type cell struct {
	Text  string
	Place *place // a link to a stretch of a ride
	Ink   string // a swatch in front
}

func columns(names ...string) []column {
	all := make([]column, len(names))
	for i, n := range names {
		all[i].Name, all[i].Numeric = strings.CutPrefix(n, "#")
	}
	return all
}

func texts(values ...string) []cell {
	cells := make([]cell, len(values))
	for i, v := range values {
		cells[i].Text = v
	}
	return cells
}

// withDoubt is a figure and its interval in one cell.
func withDoubt(f doubt.Figure, m measure) string {
	if !finite(f.Value) {
		return "–"
	}
	s := grouped(m.of(f.Value), figureDigits(f, m))
	if low, high := m.of(f.Low), m.of(f.High); finite(low) && finite(high) && f.Low != f.High {
		digits := rangeDigits(low, high)
		s += fmt.Sprintf(" (%s to %s)", grouped(low, digits), grouped(high, digits))
	}
	return s
}

func (v *view) classTable(u units) table {
	t := table{Caption: "Time and battery energy by how the motor ran", Columns: columns("Motor", "#Time", "#Share of time", "#Wh")}
	total := 0
	for _, c := range v.Classes {
		total += c.Seconds
	}
	for _, c := range classes() {
		tally := v.Classes[c]
		if tally.Seconds == 0 {
			continue
		}
		t.Rows = append(t.Rows, tableRow{Cells: []cell{
			{Text: c.String(), Ink: classInk(c)}, {Text: span(tally.Seconds)},
			{Text: percent(float64(tally.Seconds) / float64(total))}, {Text: u.energy.bare(tally.Wh)},
		}})
	}
	return t
}

// spotTable lists the numbered places.
func (v *view) spotTable(u units) table {
	t := table{
		Caption: "Places where another gear would have served better, dearest first",
		Columns: columns("Spot", "Where", "Ridden", "Better", "#Motor, rpm", "#Legs, rpm", "#Saves, Wh"),
	}
	for _, s := range v.spots {
		if s.number > mostSpots {
			t.More = fmt.Sprintf("%d smaller ones are in the JSON document and the tables.", len(v.spots)-mostSpots)
			break
		}
		p := v.place(s)
		t.Rows = append(t.Rows, tableRow{ID: s.anchor, Cells: []cell{
			{Text: fmt.Sprint(s.number), Place: &p}, {Text: s.Place}, {Text: v.gear(s.GearFrom)}, {Text: v.story(s.Moment)},
			{Text: arrow(u.rpm.bare(s.MotorRPMFrom), u.rpm.bare(s.MotorRPMTo))},
			{Text: arrow(u.rpm.bare(s.CadenceFrom), u.rpm.bare(s.CadenceTo))},
			{Text: withDoubt(s.Saving, u.energy)},
		}})
	}
	return t
}

// mostSteps is how many gears of a moment a cell of the table names.
const mostSteps = 5

// story is a moment's gears in order: "42/28 before you stop, 24, 21".
func (v *view) story(m shifts.Moment) string {
	if len(m.Story) == 0 {
		return v.gear(m.GearTo)
	}
	words := v.gear(m.Story[0].Gear)
	if m.BeforeStop {
		words += " before you stop"
	}
	for k, step := range m.Story[1:] {
		if k+1 == mostSteps {
			return words + " …"
		}
		words += ", then " + v.gear(step.Gear)
	}
	return words
}

func arrow(from, to string) string { return from + " → " + to }

// dearest sorts habits by what they cost.
func dearest(habits []shifts.Habit) []shifts.Habit {
	return slices.SortedStableFunc(slices.Values(habits), func(a, b shifts.Habit) int { return cmp.Compare(b.Cost.Value, a.Cost.Value) })
}

func habitTable(habits []shifts.Habit, u units) table {
	t := table{Caption: "Habits behind the places", Columns: columns("Habit", "#How often", "#Cost, Wh", "What to do")}
	for _, h := range dearest(habits) {
		if h.Count == 0 {
			continue
		}
		often := fmt.Sprint(h.Count)
		if h.Opportunities > 0 {
			often = fmt.Sprintf("%d of %d", h.Count, h.Opportunities)
		}
		advice, cost := h.Advice, withDoubt(h.Cost, u.energy)
		switch {
		case !h.Carried:
			advice = "Seen too seldom to advise on."
		case advice == "":
			advice = "Not worth changing."
		}
		if h.Cost.Value == 0 {
			cost = "–"
		}
		t.Rows = append(t.Rows, tableRow{Cells: texts(h.Kind, often, cost, advice)})
	}
	return t
}

func (v *view) gearTable(u units) table {
	t := table{Caption: "Gears used", Columns: columns("Gear", "#Time", "#Wh", "#Motor loaded, rpm", "#Legs, rpm", "#Lugging")}
	motor := v.Bears.Motor.Given()
	if !motor {
		t.Columns = columns("Gear", "#Time", "#Legs, rpm")
	}
	for _, g := range v.PerGear {
		if g.Seconds == 0 {
			continue
		}
		if !motor {
			t.Rows = append(t.Rows, tableRow{Cells: texts(g.Gear.String(), span(g.Seconds), u.rpm.bare(g.MeanCadence))})
			continue
		}
		t.Rows = append(t.Rows, tableRow{Cells: texts(g.Gear.String(), span(g.Seconds), u.energy.bare(g.Wh),
			u.rpm.bare(g.MeanMotorRPM), u.rpm.bare(g.MeanCadence), span(g.LuggingSeconds))})
	}
	return t
}

func (v *view) replayTable(u units) table {
	t := table{
		Caption: "The same ride on other drives",
		Columns: columns("Drive", "#Battery, Wh", "#Heat in the winding, Wh", "#Hottest winding, "+u.temperature.unit, "#Keeps up", "#Slower where not", "#Legs out of band", "#Over its limit"),
	}
	for _, o := range v.Replays {
		slower, over, legs := "–", "–", "–"
		if o.SlowerBy > 0 {
			slower = percent(o.SlowerBy)
		}
		if o.OverLimitS > 0 {
			over = span(o.OverLimitS)
		}
		if o.LegsOutShare > 0 {
			legs = percent(o.LegsOutShare)
		}
		if o.Note != "" {
			t.Notes = append(t.Notes, upperFirst(o.Name)+": "+lowerFirst(o.Note))
		}
		keeps := "–"
		if finite(o.FeasibleShare) {
			keeps = percent(o.FeasibleShare)
		}
		t.Rows = append(t.Rows, tableRow{Cells: texts(o.Name, u.energy.bare(o.BatteryWh), u.energy.bare(o.CopperWh),
			u.temperature.bare(o.WindingPeakC), keeps, slower, legs, over)})
	}
	return t
}

func bookTable(caption string, accounts []ledger.Account, residual float64, in int) table {
	t := table{Caption: caption, Columns: columns("Account", "#In, Wh", "#Out, Wh", "#Between", "Known how")}
	for k, a := range accounts {
		between := ""
		if a.Low < a.High {
			between = wattHours(a.Low) + " and " + wattHours(a.High)
		}
		cells := texts(a.Name, "", wattHours(a.Wh), between, a.Basis.String())
		if k < in {
			cells[1], cells[2] = cells[2], cells[1]
		}
		t.Rows = append(t.Rows, tableRow{Cells: cells})
	}
	t.Rows = append(t.Rows, tableRow{Cells: texts("in no account", "", wattHours(residual), "", "")})
	return t
}

func wattHours(v float64) string { return cellNumber(v, 2) }

func assumptionTable(list []analysis.Assumption) table {
	t := table{Caption: "What the figures rest on", Columns: columns("Value", "#Is", "Unit", "Comes from")}
	for _, a := range list {
		digits := 0
		for digits < 6 && math.Abs(a.Value) < 100 && math.Abs(a.Value-round(a.Value, digits)) > 1e-9*math.Max(1, math.Abs(a.Value)) {
			digits++
		}
		t.Rows = append(t.Rows, tableRow{Cells: texts(a.Name, cellNumber(a.Value, digits), a.Unit, a.Source)})
	}
	return t
}

// channelTable tells what was logged and by what.
func (v *view) channelTable() table {
	t := table{Caption: "What the log holds", Columns: columns("Channel", "Unit", "#Seconds with a value", "#Of them interpolated", "From")}
	for _, c := range v.Ride.Channels() {
		known, between := 0, 0
		for _, m := range v.Ride.Marks(c) {
			if m != ride.Missing {
				known++
			}
			if m == ride.Interpolated {
				between++
			}
		}
		t.Rows = append(t.Rows, tableRow{Cells: texts(plain(c.String()), c.Unit(), grouped(float64(known), 0), grouped(float64(between), 0), v.Ride.Origin(c).String())})
	}
	return t
}

func plain(key string) string { return strings.ReplaceAll(key, "_", " ") }

// stripTable is the strip in numbers: means over round lengths of time.
func (v *view) stripTable(u units) table {
	step := 3600
	for _, s := range []int{10, 30, 60, 120, 300, 600, 900, 1800} {
		if (v.to-v.from)/s <= 40 {
			step = s
			break
		}
	}
	t := table{
		Caption: "The ride in pieces of " + spanWords(step) + ", means over the piece",
		Columns: columns("#From", "#Distance, "+u.distance.unit, "#Altitude, "+u.height.unit, "#Grade, %", "#Speed, "+u.speed.unit, "Gear", "Planned",
			"Motor mostly", "#Motor, rpm", "#Battery, W", "#Battery, V", "#Battery, A", "#Winding, "+u.temperature.unit),
	}
	volts, amps := v.battery()
	for from := v.from; from < v.to; from += step {
		to := min(from+step, v.to)
		mean := func(column []float64) float64 { return meanOf(column, from, to) }
		t.Rows = append(t.Rows, tableRow{Cells: texts(span(from), u.distance.bare(valueAt(v.Road.Distance, from)), u.height.bare(mean(v.Road.Altitude)),
			cellNumber(mean(v.Road.Grade)*100, 1), u.speed.bare(mean(v.Road.Speed)),
			v.mostGear(v.Gears.Index, from, to), v.mostGear(v.Plan.Gear, from, to), v.mostOf(from, to).String(),
			u.rpm.bare(mean(v.Drive.MotorSpeed)*rpmPerRadPerS), u.power.bare(mean(v.Drive.Terminal)),
			u.volts.bare(mean(volts)), u.amps.bare(mean(amps)), u.temperature.bare(mean(v.Drive.Winding)))})
	}
	return t
}

func meanOf(column []float64, from, to int) float64 {
	total, n := 0.0, 0
	for i := from; i < min(to, len(column)); i++ {
		if finite(column[i]) {
			total += column[i]
			n++
		}
	}
	if n == 0 {
		return nan()
	}
	return total / float64(n)
}

func (v *view) mostGear(index []int, from, to int) string {
	count := make([]int, len(v.gears))
	best := -1
	for i := from; i < min(to, len(index)); i++ {
		if g := index[i]; g >= 0 && g < len(count) {
			count[g]++
			if best < 0 || count[g] > count[best] {
				best = g
			}
		}
	}
	if best < 0 {
		return "–"
	}
	return v.gear(best)
}

// table is the motor map in numbers: for each power, where the band lies
// and how the loaded time was spent.
func (m motorMap) table() table {
	t := table{Caption: "Loaded time by motor power", Columns: columns("#Power, W", "#Time", "#Below the band", "#In it", "#Above it", "#Band, rpm")}
	for r := range m.seconds {
		total, below, in, above := 0, 0, 0, 0
		for c, s := range m.seconds[r] {
			total += s
			switch mid := (float64(c) + 0.5) * m.rpm.step; {
			case mid < m.low[r]:
				below += s
			case mid > m.high[r]:
				above += s
			default:
				in += s
			}
		}
		if total == 0 {
			continue
		}
		band := "–"
		if finite(m.low[r]) {
			band = grouped(m.low[r], 0) + " to " + grouped(m.high[r], 0)
		}
		t.Rows = append(t.Rows, tableRow{Cells: texts(
			grouped(float64(r)*m.power.step, 0)+" to "+grouped(float64(r+1)*m.power.step, 0), span(total), span(below), span(in), span(above), band)})
	}
	return t
}
