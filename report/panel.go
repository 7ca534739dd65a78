package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"cogledger/analysis/drive"
	"cogledger/ingest/ride"
)

// A panel is one row of a strip: a few lines over the ride's time. Both the
// interactive and the drawn chart are made from it.
type panel struct {
	key, title, unit string
	why              string // why there is nothing to draw; empty when there is
	seconds          []int  // the thinned clock, one a point
	lines            []line
	scale            scale
	steps            []string // names of the levels of a stepped scale, lowest first
	height           int      // px on screen
	fromRoad         bool     // the values are modelled
}

// A look is how a line is drawn. Ink names a colour of the style sheet.
type look struct {
	ink    string
	width  float64
	dashed bool
	step   bool
	area   bool   // filled down to zero or to the line stacked below
	stack  string // lines of one stack lie on one another
	hidden bool   // carries a stack, is not seen itself
}

// fill is the ink of the area under a line; lines over a wide area have a paler
// one for it.
func (l look) fill() string {
	if l.ink == "earth" {
		return "earth-tint"
	}
	return l.ink
}

// A line is one series of a panel, at the panel's seconds, NaN in gaps.
type line struct {
	name   string
	values []float64
	look   look
	digits int
	silent bool // not read out at the cursor
}

// panels lists the rows of the ride's strip from the top, at most limit points
// a row.
func (v *view) panels(u units, limit int) []panel {
	radPerS := measure{"rpm", 60 / (2 * math.Pi), 0, 0}
	d, r := v.Drive, v.Road
	climb := make([]float64, len(r.Grade))
	for i, g := range r.Grade {
		climb[i] = g * 100
	}
	altitude := r.Altitude
	if altitude == nil {
		altitude = v.Ride.Column(ride.Altitude)
	}
	speed := r.Speed
	if speed == nil {
		speed = v.Ride.Column(ride.Speed)
	}
	volts, amps := v.battery()

	all := []panel{
		v.panel("altitude", "Altitude", u.height, 84, limit, "the log has no altitude",
			line{name: "altitude", values: altitude, look: look{ink: "earth", area: true, width: 1.2}}),
		v.panel("grade", "Grade", measure{"%", 1, 0, 0}, 64, limit, "the log has no altitude",
			line{name: "grade", values: climb, look: look{ink: "earth", width: 1, area: true}, digits: 1}),
		v.panel("speed", "Speed", u.speed, 84, limit, "the log has no speed",
			line{name: "speed", values: speed, look: look{ink: "ink", width: 1.2}, digits: 1}),
		v.gearPanel(limit),
		v.panel("motor", "Motor speed and its efficient band", radPerS, 132, limit, v.whyNoMotor(),
			line{name: "efficient band from", values: d.BandLow, look: look{ink: "band-tint", stack: "band", area: true, hidden: true}},
			line{name: "to", values: d.BandHigh, look: look{ink: "band-tint", stack: "band", area: true}},
			line{name: "motor", values: d.MotorSpeed, look: look{ink: "ink", width: 1.1}},
			line{name: "lugging", values: v.onlyIn(d.MotorSpeed, drive.Lugging), look: look{ink: "lug", width: 3}, silent: true},
			line{name: "spinning out", values: v.onlyIn(d.MotorSpeed, drive.SpinningOut), look: look{ink: "spin", width: 3, dashed: true}, silent: true}),
		v.panel("power", "Power", u.power, 112, limit, v.whyNoMotor(),
			line{name: "out of the battery", values: d.Terminal, look: look{ink: "ink", width: 1.1}},
			line{name: "motor at the wheel", values: d.Delivered, look: look{ink: "band", width: 1.1}},
			line{name: "legs", values: d.Legs, look: look{ink: "leg", width: 1}}),
		v.panel("losses", "Power lost on the way", u.power, 112, limit, v.whyNoMotor(),
			line{name: "winding", values: d.Copper, look: look{ink: "loss-1", stack: "loss", area: true}},
			line{name: "iron and drag", values: d.Drag, look: look{ink: "loss-2", stack: "loss", area: true}},
			line{name: "controller", values: d.Controller, look: look{ink: "loss-3", stack: "loss", area: true}},
			line{name: "reduction and chain", values: sum(d.Reduction, d.Chain), look: look{ink: "loss-4", stack: "loss", area: true}},
			line{name: "battery", values: d.BatteryHeat, look: look{ink: "loss-5", stack: "loss", area: true}}),
		v.panel("volts", "Battery voltage", u.volts, 64, limit, "the log has no battery voltage",
			line{name: "battery", values: volts, look: look{ink: "ink", width: 1.1}, digits: 1}),
		v.panel("amps", "Battery current", u.amps, 64, limit, "the log has no battery current",
			line{name: "battery", values: amps, look: look{ink: "ink", width: 1.1}, digits: 1}),
		v.panel("winding", "Winding temperature", u.temperature, 84, limit, v.whyNoMotor(),
			line{name: "winding", values: d.Winding, look: look{ink: "lug", width: 1.4}},
			line{name: "housing", values: d.Housing, look: look{ink: "quiet", width: 1.1, dashed: true}}),
	}
	for i := range all {
		all[i].fromRoad = all[i].why == "" && v.modelledRow(all[i].key)
	}
	if !v.Bears.Motor.Given() { // rows that would say so one after the other
		all = slices.DeleteFunc(all, func(p panel) bool {
			return p.why != "" && slices.Contains([]string{"motor", "power", "losses", "volts", "amps", "winding"}, p.key)
		})
	}
	return all
}

// modelledRow reports whether a row rests on the road instead of a channel.
func (v *view) modelledRow(key string) bool {
	switch key {
	case "power", "losses", "winding":
		return v.Drive.Knowledge == drive.FromRoad
	case "motor":
		return v.Drive.Knowledge == drive.FromRoad && !v.Ride.Has(ride.MotorRPM)
	case "volts":
		return !v.Ride.Has(ride.BatteryVolts)
	case "amps":
		return !v.Ride.Has(ride.BatteryAmps)
	}
	return false
}

// battery is voltage and current as the drive's state has them, else as logged.
func (v *view) battery() (volts, amps []float64) {
	volts, amps = v.Drive.Volts, v.Drive.Amps
	if !anyFinite(volts) {
		volts = v.Ride.Column(ride.BatteryVolts)
	}
	if !anyFinite(amps) {
		amps = v.Ride.Column(ride.BatteryAmps)
	}
	return volts, amps
}

// panel thins the lines on one common clock, turns them into the reader's unit
// and finds the axis. Stacked lines are turned into what they add.
func (v *view) panel(key, title string, m measure, height, limit int, why string, lines ...line) panel {
	p := panel{key: key, title: title, unit: m.unit, height: height}
	var shown []line
	var columns [][]float64
	for _, l := range lines {
		if lo, _ := extent(l.values, v.from, v.to); finite(lo) {
			shown = append(shown, l)
			if l.look.stack == "" && !l.silent {
				columns = append(columns, l.values)
			}
		}
	}
	if len(shown) == 0 {
		p.why = why
		return p
	}
	if columns == nil { // everything is stacked: the total decides what stays
		total := shown[0].values
		for _, l := range shown[1:] {
			total = sum(total, l.values)
		}
		columns = append(columns, total)
	}
	p.seconds = thin(v.from, v.to, limit, columns...)
	lo, hi := math.NaN(), math.NaN()
	stacked := map[string][]float64{}
	for _, l := range shown {
		drawn := make([]float64, len(p.seconds))
		for k, s := range p.seconds {
			drawn[k] = m.of(valueAt(l.values, s))
		}
		l.values = drawn
		p.lines = append(p.lines, l)
		top := drawn
		if l.look.stack != "" && l.look.stack != "band" {
			if stacked[l.look.stack] != nil {
				top = sum(stacked[l.look.stack], drawn)
			}
			stacked[l.look.stack] = top
		}
		if l.look.stack == "band" {
			continue // the band may be far wider than what the motor did
		}
		a, b := extent(top, 0, len(top))
		if !(a >= lo) {
			lo = a
		}
		if !(b <= hi) {
			hi = b
		}
	}
	if key != "altitude" && key != "winding" && key != "volts" {
		lo, hi = math.Min(lo, 0), math.Max(hi, 0)
	}
	if key == "motor" {
		hi *= 1.15
	}
	if lo < 0 && -lo < 0.08*(hi-lo) && key != "grade" {
		lo = 0 // a trickle the other way is not worth half an axis; it is cut off
	}
	p.scale = niceScale(lo, hi, max(2, height/32))
	return p
}

// gearPanel draws the gear used against the gear planned, in order of ratio.
func (v *view) gearPanel(limit int) panel {
	p := panel{key: "gear", title: "Gear used and gear planned", height: 118, why: v.whyNoGear()}
	if !v.Bears.Advice.Given() {
		p.title = "Gear used"
	}
	order := make([]int, len(v.gears))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch d := v.gears[a].Ratio - v.gears[b].Ratio; {
		case d < 0:
			return -1
		case d > 0:
			return 1
		}
		return 0
	})
	rank := make([]float64, len(v.gears))
	for k, g := range order {
		rank[g] = float64(k)
		p.steps = append(p.steps, v.gears[g].String())
	}
	used, planned := ranks(v.Gears.Index, rank), ranks(v.Plan.Gear, rank)
	if !anyFinite(used) {
		return p
	}
	p.why = ""
	p.seconds = thin(v.from, v.to, limit, used, planned)
	pick := func(column []float64) []float64 {
		drawn := make([]float64, len(p.seconds))
		for k, s := range p.seconds {
			drawn[k] = valueAt(column, s)
		}
		return drawn
	}
	if anyFinite(planned) {
		p.lines = append(p.lines, line{name: "planned", values: pick(planned), look: look{ink: "plan", width: 3.5, step: true}})
	}
	p.lines = append(p.lines, line{name: "used", values: pick(used), look: look{ink: "ink", width: 1.2, step: true}})
	p.scale = scale{-0.5, float64(len(p.steps)) - 0.5, 1}
	return p
}

// ranks places gear indices on the stepped scale, NaN where unknown.
func ranks(index []int, rank []float64) []float64 {
	column := make([]float64, len(index))
	for i, g := range index {
		column[i] = math.NaN()
		if g >= 0 && g < len(rank) {
			column[i] = rank[g]
		}
	}
	return column
}

// onlyIn keeps the values of the seconds of one class.
func (v *view) onlyIn(column []float64, c drive.Class) []float64 {
	kept := make([]float64, len(column))
	for i := range column {
		kept[i] = math.NaN()
		if v.class(i) == c {
			kept[i] = column[i]
		}
	}
	return kept
}

// whyNoGear says what is missing to tell the gear.
func (v *view) whyNoGear() string {
	switch {
	case !v.Ride.Has(ride.CadenceRPM):
		return "the log has no cadence, so the gear cannot be told"
	case !v.Ride.Has(ride.Speed):
		return "the log has no speed, so the gear cannot be told"
	default:
		return "speed and cadence fit none of the bike's gears"
	}
}

// whyNoMotor says what is missing to tell what the motor did.
func (v *view) whyNoMotor() string {
	switch {
	case !v.Bears.Motor.Given():
		return v.Bears.Motor.Why
	case !v.Bears.Drive.Given():
		return v.Bears.Drive.Why
	case !v.Ride.Has(ride.CadenceRPM) && !v.Ride.Has(ride.MotorRPM):
		return "the log has neither cadence nor motor speed, so what the motor did cannot be told"
	case !v.Ride.Has(ride.Speed):
		return "the log has no speed, so what the motor did cannot be told"
	case v.Drive.Knowledge == drive.FromRoad && !v.Ride.Has(ride.Altitude):
		return "the log has neither battery channels, nor motor power, nor altitude to work the motor's power out from"
	default:
		return "the log does not hold enough to work it out"
	}
}

// summary is the row in words, for readers who do not see it.
func (p panel) summary() string {
	if p.why != "" {
		return p.title + ": " + unknown + ", " + p.why + "."
	}
	var parts []string
	for _, l := range p.lines {
		if l.silent || l.look.hidden {
			continue
		}
		lo, hi := extent(l.values, 0, len(l.values))
		if p.steps != nil {
			parts = append(parts, fmt.Sprintf("%s from %s to %s", l.name, p.level(lo), p.level(hi)))
			continue
		}
		digits := max(l.digits, min(sensible(lo), sensible(hi)))
		parts = append(parts, fmt.Sprintf("%s from %s to %s", l.name, grouped(lo, digits), number(hi, digits, p.unit)))
	}
	return p.title + " over the ride: " + strings.Join(parts, "; ") + "."
}

func (p panel) level(v float64) string {
	if k := int(math.Round(v)); finite(v) && k >= 0 && k < len(p.steps) {
		return p.steps[k]
	}
	return unknown
}

// sum adds two columns, NaN where either is.
func sum(a, b []float64) []float64 {
	switch {
	case a == nil:
		return b
	case b == nil:
		return a
	}
	total := make([]float64, min(len(a), len(b)))
	for i := range total {
		total[i] = a[i] + b[i]
	}
	return total
}

func anyFinite(column []float64) bool {
	for _, v := range column {
		if finite(v) {
			return true
		}
	}
	return false
}
