package report

import (
	"fmt"
	"html/template"
	"math"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"
	"github.com/go-echarts/go-echarts/v2/types"
)

// A trendPart compares the rides of a set, in order of time.
type trendPart struct {
	Table  table
	Charts []trendChart
}

type trendChart struct {
	ID, Title, Label string
	Still            template.HTML
}

// A course of one figure over the rides.
type trendLine struct {
	key, title, unit string
	names            []string
	values           []float64
	low, high        []float64
}

func (p *page) trend(all []*view, u units) (trendPart, error) {
	t := trendPart{Table: trendTable(all, u)}
	lost := trendLine{key: "trend-lost", title: "Lost to lugging, of what the battery gave", unit: "%"}
	used := trendLine{key: "trend-used", title: "Out of the battery", unit: u.perDistance.unit}
	for i, v := range all {
		h := v.Headline
		name := fmt.Sprint(i + 1)
		lost.names, used.names = append(lost.names, name), append(used.names, name)
		share := func(wh float64) float64 {
			if !(h.BatteryWh.Value > 0) {
				return nan()
			}
			return math.Max(0, wh/h.BatteryWh.Value*100)
		}
		lost.values = append(lost.values, share(h.LuggingLossWh.Value))
		lost.low, lost.high = append(lost.low, share(h.LuggingLossWh.Low)), append(lost.high, share(h.LuggingLossWh.High))
		used.values = append(used.values, u.perDistance.of(h.WhPerKm.Value))
		used.low, used.high = append(used.low, u.perDistance.of(h.WhPerKm.Low)), append(used.high, u.perDistance.of(h.WhPerKm.High))
	}
	for _, l := range []trendLine{lost, used} {
		if !anyFinite(l.values) {
			continue
		}
		t.Charts = append(t.Charts, trendChart{ID: l.key, Title: l.title + ", " + l.unit, Label: l.title + " by ride; the table below has the numbers.", Still: l.draw()})
		if p.Library != "" {
			if err := p.add(l.chart()); err != nil {
				return t, err
			}
		}
	}
	return t, nil
}

func trendTable(all []*view, u units) table {
	t := table{Caption: "The rides", Columns: columns("#", "Ride", "#Distance, "+u.distance.unit, "#Moving", "#Battery, Wh", "#"+u.perDistance.unit, "#Lost to lugging, Wh", "#Lugging, share of loaded time", "#Hottest, "+u.temperature.unit)}
	for i, v := range all {
		h := v.Headline
		lugging := "–"
		if finite(h.LuggingShare) {
			lugging = percent(h.LuggingShare)
		}
		first := cell{Text: shortName(v.name), Place: &place{Ride: v.id, Text: v.name, From: -1}}
		cells := append([]cell{{Text: fmt.Sprint(i + 1)}, first}, texts(u.distance.bare(h.Distance), span(h.MovingSeconds), u.energy.bare(h.BatteryWh.Value),
			withDoubt(h.WhPerKm, u.perDistance), withDoubt(h.LuggingLossWh, u.energy), lugging, u.temperature.bare(h.WindingPeakC.Value))...)
		t.Rows = append(t.Rows, tableRow{Cells: cells})
	}
	return t
}

func (l trendLine) scale() scale {
	_, top := extent(l.high, 0, len(l.high))
	_, most := extent(l.values, 0, len(l.values))
	if finite(top) {
		most = math.Max(most, top)
	}
	return niceScale(0, most, 4)
}

// draw is the still form: a dot a ride with its interval.
func (l trendLine) draw() template.HTML {
	const width, height, left, bottom = 360.0, 190.0, 40.0, 22.0
	d := newDrawing(width, height, "trend-still", l.title+" by ride")
	s := l.scale()
	y := func(v float64) float64 { return 8 + (height-bottom-8)*(1-s.at(v)) }
	step := (width - left - 8) / float64(len(l.values))
	for _, m := range s.marks() {
		d.line("rule", left, y(m), width-8, y(m))
		d.text("tick end", left-5, y(m)+3.5, grouped(m, markDigits(s.step)))
	}
	for k, v := range l.values {
		x := left + step*(float64(k)+0.5)
		d.text("tick mid", x, height-6, l.names[k])
		if !finite(v) {
			continue
		}
		d.rect("fill-plan", x-math.Min(16, step*0.3), y(v), math.Min(32, step*0.6), y(0)-y(v))
		if finite(l.low[k]) && l.low[k] != l.high[k] {
			d.line("line-ink", x, y(l.low[k]), x, y(l.high[k]))
		}
	}
	return d.end()
}

// chart is the interactive form.
func (l trendLine) chart() chart {
	c := base(l.key, opts.Grid{Left: "40", Right: "8", Top: "8", Bottom: "24"})
	x := clockAxisOption(scale{}, true)
	x.Type, x.Min, x.Max = "category", nil, nil
	c.SetGlobalOptions(charts.WithXAxisOpts(x), charts.WithYAxisOpts(valueAxis(l.scale(), true)))
	c.SetXAxis(l.names)
	series := func(name, kind string, values any) charts.SingleSeries {
		return charts.SingleSeries{Name: name, Type: kind, Data: values, Animation: opts.Bool(false), ItemStyle: &opts.ItemStyle{Color: ink("plan")}}
	}
	bars := series(l.title, types.ChartBar, nullable(l.values))
	bars.BarMaxWidth = "36"
	bars.Label = &opts.Label{Show: opts.Bool(true), Position: "insideBottom", Color: ink("ink"), FontSize: 11}
	c.MultiSeries = append(c.MultiSeries, bars)
	for k := range l.values {
		if !finite(l.values[k]) || l.low[k] == l.high[k] {
			continue
		}
		whisker := series("range", types.ChartLine, []any{[]any{k, round(l.low[k], 2)}, []any{k, round(l.high[k], 2)}})
		whisker.ShowSymbol, whisker.Symbol = opts.Bool(false), "none"
		whisker.LineStyle = &opts.LineStyle{Color: ink("ink"), Width: 1.5}
		c.MultiSeries = append(c.MultiSeries, whisker)
	}
	return finish(l.key, c)
}

// nullable is a plain list of values, null where not finite.
func nullable(values []float64) []*float64 {
	list := make([]*float64, len(values))
	for i, v := range values {
		if finite(v) {
			rounded := round(v, 1)
			list[i] = &rounded
		}
	}
	return list
}

// shortName is a ride's name as far as it fits a table.
func shortName(name string) string {
	short, _ := clip(heading(name), 48)
	return short
}
