package report

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/replay"
	"cogledger/report/script"
)

//go:embed page/curves.gohtml
var curvesTemplate string

// A curvePart is one chapter of the page of curves.
type curvePart struct {
	ID, Heading, Caption, Label, After string
	Legend                             []key
	Still                              template.HTML
	Table                              table
	Open                               bool
}

type curvesPage struct {
	page
	Curves []curvePart
}

// Curves writes a page that draws a bike's drive: efficiency over motor speed
// with the band, over speed and torque, pull at the wheel by gear against a hub
// motor and the road, and starts from a stand.
func Curves(w io.Writer, p *bike.Profile, o Options) error {
	library, _ := script.Source()
	return writeCurves(w, p, o, library)
}

func writeCurves(w io.Writer, p *bike.Profile, o Options, library string) error {
	title := p.Name
	if o.Title != "" {
		title = o.Title
	}
	if title == "" {
		title = "The bike"
	}
	c := curvesPage{page: shell(heading(title), library)}
	c.Kicker = "Curves of a drive"
	if !o.Now.IsZero() {
		c.Written = o.Now.Format("2 January 2006, 15:04 MST")
	}
	c.Facts = []string{string(p.Drive.Kind) + " drive", fmt.Sprintf("%d gears", len(p.Gears())),
		number(p.Battery.NominalV, 0, "V"), number(p.Battery.CapacityWh, 0, "Wh"), number(p.Mass.Total(), 0, "kg") + " with rider and load"}
	u := newUnits(o.Imperial)
	d := curveDrawer{p: p, unit: drive.NewUnit(p), u: u, hub: asHub(p)}
	for _, part := range []func(*curvesPage) error{d.efficiency, d.band, d.efficiencyMap, d.pull, d.launch} {
		if err := part(&c); err != nil {
			return err
		}
	}
	t, err := template.New("page").Parse(pageTemplate)
	if err == nil {
		t, err = t.New("curves").Parse(curvesTemplate)
	}
	if err != nil {
		return fmt.Errorf("report: template of the curves: %w", err)
	}
	return t.Execute(w, c)
}

// asHub is the same motor in the wheel; nil where it is there already.
func asHub(p *bike.Profile) *bike.Profile {
	if p.Drive.Kind == bike.Hub {
		return nil
	}
	hub := *p
	hub.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: replay.HubTurns(p)}
	return &hub
}

// A curveDrawer makes the chapters from one profile.
type curveDrawer struct {
	p    *bike.Profile
	unit drive.Unit
	u    units
	hub  *bike.Profile
}

const warmC = 60 // °C of the winding for the curves: a motor that has been ridden

// topSpeed is the motor speed in rad/s up to which curves are drawn.
func (d curveDrawer) topSpeed() float64 {
	return d.p.Battery.NominalV / d.p.Motor.TorqueConstant
}

// powers are the outputs that get a curve: round parts of what the drive can give.
func (d curveDrawer) powers() []float64 {
	most := d.unit.MostShaft(warmC, d.unit.OpenCircuitV)
	var list []float64
	for _, w := range []float64{50, 100, 200, 350, 500, 750, 1000, 1500, 2000} {
		if w < 0.9*most {
			list = append(list, w)
		}
	}
	if len(list) > 5 {
		list = list[len(list)-5:]
	}
	return list
}

func between(from, to float64, n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = from + (to-from)*float64(i)/float64(n-1)
	}
	return x
}

func scaled(column []float64, factor float64) []float64 {
	out := make([]float64, len(column))
	for i, v := range column {
		out[i] = v * factor
	}
	return out
}

func (c *curvesPage) put(part curvePart, interactive chart) error {
	c.Curves = append(c.Curves, part)
	if c.Library == "" {
		return nil
	}
	return c.add(interactive)
}

func (d curveDrawer) efficiency(c *curvesPage) error {
	speeds := between(d.topSpeed()*0.01, d.topSpeed(), 240)
	p := plot{xUnit: "motor speed, rpm", yUnit: "%"}
	t := table{Caption: "The efficient band by power", Columns: columns("#Power, W", "#Best efficiency, %", "#at, rpm", "#Band from, rpm", "#to, rpm")}
	inks := []string{"band", "leg", "earth", "spin", "lug"}
	top := 0.0
	for k, e := range d.unit.EfficiencyCurves(d.powers(), speeds, warmC) {
		name := number(e.ShaftW, 0, "W")
		percentOf := scaled(e.Efficiency, 100)
		whole := curve{name: name, x: scaled(e.Speed, rpmPerRadPerS), y: percentOf, ink: inks[k%len(inks)], dashed: k%2 == 1}
		in := curve{name: name + " in its band", x: whole.x, y: make([]float64, len(speeds)), ink: whole.ink, thick: true, hidden: true}
		for i, w := range e.Speed {
			in.y[i] = nan()
			if w >= e.Band.Low && w <= e.Band.High {
				in.y[i] = percentOf[i]
			}
		}
		p.curves = append(p.curves, whole, in)
		if _, hi := extent(percentOf, 0, len(percentOf)); finite(hi) {
			top = math.Max(top, hi)
		}
		t.Rows = append(t.Rows, tableRow{Cells: texts(grouped(e.ShaftW, 0), cellNumber(e.Band.Efficiency*100, 1), cellNumber(e.Band.Best*rpmPerRadPerS, 0),
			cellNumber(e.Band.Low*rpmPerRadPerS, 0), cellNumber(e.Band.High*rpmPerRadPerS, 0))})
	}
	p.x, p.y = niceScale(0, d.topSpeed()*rpmPerRadPerS, 8), niceScale(math.Max(0, math.Min(40, top-45)), math.Min(100, top+2), 6)
	label := "Efficiency against motor speed at several powers; the table has the bands."
	return c.put(curvePart{
		ID: "efficiency", Heading: "Efficiency and its band",
		Caption: "From the battery’s terminals to the motor’s shaft, over motor speed, with the winding at 60 °C. The thick part of each curve is its efficient band: at most three points below its best.",
		Label:   label, Legend: p.legend(), Still: p.draw(label), Table: t, Open: true,
		After: "One motor has one best speed for every power: below it the winding’s heat grows, above it iron and bearings take more. That is why a motor that works hard at low speed lugs.",
	}, p.chart("efficiency-chart"))
}

func (d curveDrawer) band(c *curvesPage) error {
	most := d.unit.MostShaft(warmC, d.unit.OpenCircuitV)
	powers := between(15, most*0.97, 60)
	low, best, high := make([]float64, len(powers)), make([]float64, len(powers)), make([]float64, len(powers))
	t := table{Caption: "The band by power", Columns: columns("#Power, W", "#From, rpm", "#Best, rpm", "#To, rpm")}
	for i, w := range powers {
		b := d.unit.BandAt(w, warmC, d.unit.OpenCircuitV)
		low[i], best[i], high[i] = b.Low*rpmPerRadPerS, b.Best*rpmPerRadPerS, b.High*rpmPerRadPerS
		if i%6 == 0 {
			t.Rows = append(t.Rows, tableRow{Cells: texts(grouped(w, 0), cellNumber(low[i], 0), cellNumber(best[i], 0), cellNumber(high[i], 0))})
		}
	}
	p := plot{xUnit: "power at the shaft, W", yUnit: "rpm", x: niceScale(0, most, 8)}
	_, top := extent(high, 0, len(high))
	p.y = niceScale(0, top, 6)
	p.curves = []curve{
		{name: "efficient band", x: powers, y: high, below: low, ink: "band-tint", thick: true},
		{name: "upper edge", x: powers, y: high, ink: "band"},
		{name: "best speed", x: powers, y: best, ink: "ink", thick: true},
		{name: "lower edge: below it the motor lugs", x: powers, y: low, ink: "lug"},
	}
	label := "The efficient band moves with power; the table has its edges."
	return c.put(curvePart{
		ID: "band", Heading: "The band moves",
		Caption: "Edges of the efficient band and the best motor speed, over the power asked of the motor. A fixed range of rpm would call a gentle climb lugging that is not, and miss a steep one that is.",
		Label:   label, Legend: p.legend(), Still: p.draw(label), Table: t,
	}, p.chart("band-chart"))
}

func (d curveDrawer) efficiencyMap(c *curvesPage) error {
	const columnsOfMap, rowsOfMap = 48, 26
	torque := d.unit.K * d.unit.PhaseLimit
	xs, ys := niceScale(0, d.topSpeed()*rpmPerRadPerS, 8), niceScale(0, torque, 6)
	h := heat{x: scale{0, xs.high, xs.high / columnsOfMap}, y: scale{0, ys.high, ys.high / rowsOfMap}, xMarks: xs, yMarks: ys, xUnit: "motor speed, rpm", yUnit: "Nm"}
	speeds, torques := make([]float64, columnsOfMap), make([]float64, rowsOfMap)
	for i := range speeds {
		speeds[i] = (float64(i) + 0.5) * h.x.step / rpmPerRadPerS
	}
	for i := range torques {
		torques[i] = (float64(i) + 0.5) * h.y.step
	}
	m := d.unit.EfficiencyMap(speeds, torques, warmC)
	t := table{Caption: "Efficiency by torque and speed, %", Columns: columns("#Torque, Nm")}
	for k := 5; k < columnsOfMap; k += 8 {
		t.Columns = append(t.Columns, column{grouped(speeds[k]*rpmPerRadPerS, 0) + " rpm", true})
	}
	for r, row := range m.Efficiency {
		level := make([]float64, len(row))
		for k, e := range row {
			level[k] = nan()
			if finite(e) && e > 0 {
				level[k] = math.Max(0, math.Min(1, (e-0.4)/0.5))
			}
		}
		h.level = append(h.level, level)
		if r%3 != 1 {
			continue
		}
		cells := texts(cellNumber(torques[r], 2))
		for k := 5; k < columnsOfMap; k += 8 {
			cells = append(cells, cell{Text: cellNumber(row[k]*100, 0)})
		}
		t.Rows = append(t.Rows, tableRow{Cells: cells})
	}
	h.word = func(r, k int) string {
		return fmt.Sprintf("%s at %s and %s", number(m.Efficiency[r][k]*100, 0, "%"), number(speeds[k]*rpmPerRadPerS, 0, "rpm"), number(torques[r], 1, "Nm"))
	}
	label := "Efficiency over motor speed and torque; the table has the numbers."
	return c.put(curvePart{
		ID: "map", Heading: "Speed and torque",
		Caption: "Efficiency over motor speed (across, in rpm) and torque at the shaft (up, in Nm): the darker, the better, from 40 % or less to 90 %. Empty: beyond what battery, controller or voltage allow.",
		Label:   label, Still: h.draw(label), Table: t,
	}, h.chart("map-chart"))
}
