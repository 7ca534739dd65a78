package report

import (
	"fmt"
	"math"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/replay"
)

// fewGears picks at most n gears spread over the range of ratios, lowest and
// tallest among them.
func fewGears(curves []drive.PullCurve, n int) []drive.PullCurve {
	sorted := append([]drive.PullCurve(nil), curves...)
	for i := 1; i < len(sorted); i++ {
		for k := i; k > 0 && sorted[k].Gear.Ratio < sorted[k-1].Gear.Ratio; k-- {
			sorted[k], sorted[k-1] = sorted[k-1], sorted[k]
		}
	}
	if len(sorted) <= n {
		return sorted
	}
	var few []drive.PullCurve
	for k := range n {
		few = append(few, sorted[k*(len(sorted)-1)/(n-1)])
	}
	return few
}

const everydayLegsNm = 30 // a steady push at the crank, averaged over its turn; common practice

func (d curveDrawer) pull(c *curvesPage) error {
	speeds := between(0.3, 12.5, 123) // m/s, to 45 km/h
	across := scaled(speeds, d.u.speed.factor)
	p := plot{xUnit: "speed, " + d.u.speed.unit, yUnit: "N"}
	t := table{Caption: "Pull at the wheel, N", Columns: columns("Gear")}
	marks := []int{7, 24, 42, 59, 77}
	for _, k := range marks {
		t.Columns = append(t.Columns, column{d.u.speed.text(speeds[k]), true})
	}
	inks := []string{"lug", "spin", "earth", "leg", "band", "ink"}
	top := 0.0
	addRow := func(name string, force []float64) {
		cells := texts(name)
		for _, k := range marks {
			cells = append(cells, cell{Text: cellNumber(force[k], 0)})
		}
		t.Rows = append(t.Rows, tableRow{Cells: cells})
	}
	add := func(name string, force []float64, ink string, dashed bool) {
		p.curves = append(p.curves, curve{name: name, x: across, y: force, ink: ink, thick: dashed, dashed: dashed})
		if _, hi := extent(force, 0, len(force)); finite(hi) {
			top = math.Max(top, hi)
		}
		addRow(name, force)
	}
	all := drive.Pull(d.p, everydayLegsNm, speeds)
	for k, g := range fewGears(all, 5) {
		add(g.Gear.String(), g.Force, inks[k%len(inks)], false)
	}
	if d.hub != nil {
		if hub := drive.Pull(d.hub, everydayLegsNm, speeds); len(hub) > 0 {
			add("same motor in the hub, legs in "+hub[len(hub)/2].Gear.String(), hub[len(hub)/2].Force, "ink", true)
		}
	}
	for _, r := range drive.RoadLines(d.p, []float64{0, 0.05, 0.10, 0.15}, speeds) {
		name := fmt.Sprintf("road of %.0f %%", r.Grade*100)
		p.curves = append(p.curves, curve{name: name, x: across, y: r.Force, ink: "quiet", dashed: true})
		addRow(name, r.Force)
	}
	p.x, p.y = niceScale(0, across[len(across)-1], 9), niceScale(0, top, 6)
	label := "Force at the wheel by gear against the road; the table has the numbers."
	return c.put(curvePart{
		ID: "pull", Heading: "Pull by gear",
		Caption: "The most that motor and a steady push of the legs give at the wheel’s rim, by gear, against what roads of 0, 5, 10 and 15 % ask (grey, dashed, from below). Where a gear’s curve lies above a road’s, the bike gains speed on it; where they cross, it goes no faster.",
		Label:   label, Legend: p.legend(), Still: p.draw(label), Table: t,
	}, p.chart("pull-chart"))
}

func (d curveDrawer) launch(c *curvesPage) error {
	t := table{Caption: "Starts from a stand on the flat, to 15 km/h", Columns: columns("Gear", "#Pull at the start, N", "#Acceleration, m/s²", "#Time, s", "#On 8 %, s", "#Battery, J", "#Heat in the winding, J", "Held by")}
	bars := trendLine{key: "launch-chart", title: "Acceleration from a stand", unit: "m/s²"}
	add := func(name string, p *bike.Profile, g bike.Gear) error {
		flat, err := replay.Launch(p, g, replay.LaunchOptions{})
		if err != nil {
			return fmt.Errorf("report: start in %s: %w", g, err)
		}
		hill, err := replay.Launch(p, g, replay.LaunchOptions{Grade: 0.08})
		if err != nil {
			return fmt.Errorf("report: start in %s: %w", g, err)
		}
		bars.names = append(bars.names, name)
		bars.values = append(bars.values, flat.Accel)
		bars.low, bars.high = append(bars.low, flat.Accel), append(bars.high, flat.Accel)
		t.Rows = append(t.Rows, tableRow{Cells: texts(name, cellNumber(flat.PullN, 0), cellNumber(flat.Accel, 2), cellNumber(flat.To15, 1), reached(hill.To15),
			cellNumber(flat.Joules, 0), cellNumber(flat.CopperJ, 0), flat.Limit.String())})
		return nil
	}
	for _, g := range fewGears(drive.Pull(d.p, everydayLegsNm, []float64{1}), 12) {
		if err := add(g.Gear.String(), d.p, g.Gear); err != nil {
			return err
		}
	}
	if d.hub != nil {
		all := d.hub.Gears()
		if err := add("hub", d.hub, all[len(all)/2]); err != nil {
			return err
		}
	}
	label := "Acceleration from a stand by gear; the table has the numbers."
	return c.put(curvePart{
		ID: "launch", Heading: "Starts by gear",
		Caption: "Acceleration in the first half second on the flat, in m/s², by gear. “hub” is the same motor in the wheel with the legs in a middle gear.",
		Label:   label, Still: bars.draw(), Table: t, Open: true,
		After: "An easy gear starts hardest and costs the least heat. The tallest gear starts the least, and what it does not turn into motion warms the winding.",
	}, bars.chart())
}

func reached(seconds float64) string {
	if !finite(seconds) {
		return "not reached"
	}
	return cellNumber(seconds, 1)
}
