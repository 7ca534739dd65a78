package report

import (
	"fmt"
	"html/template"
	"math"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"
	"github.com/go-echarts/go-echarts/v2/types"
)

// A heat is a map of cells, darker for more, with lines over it.
type heat struct {
	x, y           scale // step is the width of a cell
	xMarks, yMarks scale
	xUnit, yUnit   string
	level          [][]float64 // [row][column] 0..1, NaN for an empty cell
	word           func(row, column int) string
	edges          [2][]float64 // x at the middle of each row; may be empty
}

// inks is the number of shades of the style sheet.
const heatInks = 6

func (h heat) draw(label string) template.HTML {
	const width, height, left, bottom, top = 720.0, 330.0, 52.0, 34.0, 8.0
	d := newDrawing(width, height, "motor-map", label)
	x := func(v float64) float64 { return left + v/h.x.high*(width-left-8) }
	y := func(v float64) float64 { return height - bottom - v/h.y.high*(height-bottom-top) }
	for r, row := range h.level {
		for c, l := range row {
			if finite(l) {
				shade := 1 + int(math.Min(heatInks-1, l*heatInks))
				d.rect(fmt.Sprintf("heat-%d", shade), x(float64(c)*h.x.step), y(float64(r+1)*h.y.step), x(h.x.step)-x(0), y(0)-y(h.y.step))
			}
		}
	}
	for _, t := range h.xMarks.marks() {
		if t <= h.x.high {
			d.text("tick mid", x(t), height-bottom+14, grouped(t, markDigits(h.xMarks.step)))
		}
	}
	for _, t := range h.yMarks.marks() {
		if t <= h.y.high {
			d.line("rule", left, y(t), width-8, y(t))
			d.text("tick end", left-5, y(t)+3.5, grouped(t, markDigits(h.yMarks.step)))
		}
	}
	for _, edge := range h.edges {
		t := trail{}
		for r, v := range edge {
			if finite(v) && v <= h.x.high {
				t.to(x(v), y((float64(r)+0.5)*h.y.step))
			} else {
				t.down = false
			}
		}
		d.path("line-band thick", t.data())
	}
	d.text("tick end", width-8, height-6, h.xUnit)
	d.text("tick", 0, top+4, h.yUnit)
	return d.end()
}

// chart is the interactive map: cells on category axes, which the library's
// heat map needs, the lines on value axes over the same ground.
func (h heat) chart(id string) chart {
	c := charts.NewHeatMap()
	c.ChartID = id
	c.Theme = ""
	shades := make([]string, heatInks)
	for k := range shades {
		shades[k] = ink(fmt.Sprintf("heat-%d", k+1))
	}
	noLabel := opts.AxisLabel{Show: opts.Bool(false)}
	c.SetGlobalOptions(
		charts.WithAnimation(false),
		charts.WithLegendOpts(opts.Legend{Show: opts.Bool(false)}),
		charts.WithTooltipOpts(opts.Tooltip{Show: opts.Bool(false)}),
		charts.WithGridOpts(opts.Grid{Left: "52", Right: "8", Top: "8", Bottom: "34"}),
		charts.WithVisualMapOpts(opts.VisualMap{Type: "continuous", Show: opts.Bool(false), Min: 0, Max: 1, Dimension: "2", InRange: &opts.VisualMapInRange{Color: shades}}),
		charts.WithXAxisOpts(opts.XAxis{Type: "category", Show: opts.Bool(false), AxisLabel: &noLabel}),
		charts.WithYAxisOpts(opts.YAxis{Type: "category", Show: opts.Bool(false), Data: make([]string, len(h.level)), AxisLabel: &noLabel}),
	)
	c.XAxisList[0].Data = make([]string, len(h.level[0])) // a heat map's Validate does not move them there
	across := clockAxisOption(scale{0, h.x.high, 0}, true)
	across.MinInterval, across.MaxInterval, across.Position = h.xMarks.step, h.xMarks.step, "bottom"
	c.ExtendXAxis(across)
	up := valueAxis(scale{0, h.y.high, h.yMarks.step}, true)
	up.Position = "left"
	c.ExtendYAxis(up)

	var cells []opts.HeatMapData
	for r, row := range h.level {
		for k, l := range row {
			if finite(l) {
				cells = append(cells, opts.HeatMapData{Name: h.word(r, k), Value: [3]float64{float64(k), float64(r), round(l, 3)}})
			}
		}
	}
	c.AddSeries("cells", cells)
	for k, edge := range h.edges {
		if edge == nil {
			continue
		}
		points := pairs{make([]float64, len(edge)), make([]float64, len(edge))}
		for r, v := range edge {
			points.x[r], points.y[r] = nan(), (float64(r)+0.5)*h.y.step
			if finite(v) && v <= h.x.high {
				points.x[r] = v
			}
		}
		c.MultiSeries = append(c.MultiSeries, charts.SingleSeries{
			Name: []string{"band from", "band to"}[k], Type: types.ChartLine, XAxisIndex: 1, YAxisIndex: 1,
			ShowSymbol: opts.Bool(false), Symbol: "none", Data: points, Animation: opts.Bool(false),
			LineStyle: &opts.LineStyle{Color: ink("band"), Width: 2.5}, ItemStyle: &opts.ItemStyle{Color: ink("band")},
		})
	}
	return finish(id, c)
}
