package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"
	"github.com/go-echarts/go-echarts/v2/types"
)

// A motorMap counts the loaded seconds by motor speed and shaft power, and
// holds the efficient band that belongs to each power.
type motorMap struct {
	why        string
	rpm, power scale     // step is the width of a cell
	seconds    [][]int   // [power row][rpm column]
	low, high  []float64 // rpm of the band by power row, NaN where never there
	most       int
}

const rpmPerRadPerS = 60 / (2 * math.Pi)

// motorMap fills the map from the seconds in which the motor was loaded.
func (v *view) motorMap() motorMap {
	var m motorMap
	d := v.Drive
	loaded := func(i int) bool {
		return finite(valueAt(d.MotorSpeed, i)) && valueAt(d.Shaft, i) >= 15
	}
	topRPM, topW, bandRPM, any := 0.0, 0.0, 0.0, false
	for i := range d.MotorSpeed {
		if loaded(i) {
			topRPM, topW, any = max(topRPM, d.MotorSpeed[i]*rpmPerRadPerS), max(topW, d.Shaft[i]), true
			if high := valueAt(d.BandHigh, i) * rpmPerRadPerS; high > bandRPM {
				bandRPM = high
			}
		}
	}
	if !any {
		m.why = v.whyNoMotor()
		if anyFinite(d.Shaft) {
			m.why = "the motor never gave 15 W or more"
		}
		return m
	}
	topRPM = max(topRPM, min(bandRPM*1.03, topRPM*1.3)) // room for the band's upper edge
	m.rpm, m.power = niceScale(0, topRPM, 48), niceScale(0, topW, 22)
	columns, rows := int(math.Round(m.rpm.high/m.rpm.step)), int(math.Round(m.power.high/m.power.step))
	m.seconds = make([][]int, rows)
	lows, highs := make([][]float64, rows), make([][]float64, rows)
	for r := range m.seconds {
		m.seconds[r] = make([]int, columns)
	}
	for i := range d.MotorSpeed {
		if !loaded(i) {
			continue
		}
		r := min(rows-1, int(d.Shaft[i]/m.power.step))
		c := min(columns-1, int(d.MotorSpeed[i]*rpmPerRadPerS/m.rpm.step))
		m.seconds[r][c]++
		m.most = max(m.most, m.seconds[r][c])
		if low, high := valueAt(d.BandLow, i), valueAt(d.BandHigh, i); finite(low) && finite(high) {
			lows[r], highs[r] = append(lows[r], low*rpmPerRadPerS), append(highs[r], high*rpmPerRadPerS)
		}
	}
	for r := range rows {
		m.low, m.high = append(m.low, median(lows[r])), append(m.high, median(highs[r]))
	}
	return m
}

func median(values []float64) float64 {
	if len(values) == 0 {
		return nan()
	}
	slices.Sort(values)
	return values[len(values)/2]
}

// share is how dark a cell is drawn: the root of its time over the longest, so
// that short visits are still seen.
func (m motorMap) share(seconds int) float64 {
	return math.Sqrt(float64(seconds) / float64(m.most))
}

// cell words one cell of the map.
func (m motorMap) cell(r, c int) string {
	return fmt.Sprintf("%s at %s to %s and %s to %s", span(m.seconds[r][c]),
		grouped(float64(c)*m.rpm.step, 0), number(float64(c+1)*m.rpm.step, 0, "rpm"),
		grouped(float64(r)*m.power.step, 0), number(float64(r+1)*m.power.step, 0, "W"))
}

// draw is the map for print and for builds without the chart library.
func (m motorMap) draw() template.HTML {
	const width, height, left, bottom, top = 720.0, 330.0, 52.0, 34.0, 8.0
	d := newDrawing(width, height, "motor-map", "Time spent by motor speed and motor power, with the efficient band; the table below has the same in numbers.")
	x := func(rpm float64) float64 { return left + rpm/m.rpm.high*(width-left-8) }
	y := func(w float64) float64 { return height - bottom - w/m.power.high*(height-bottom-top) }
	for r, row := range m.seconds {
		for c, s := range row {
			if s == 0 {
				continue
			}
			level := 1 + int(math.Min(5, m.share(s)*6))
			w, h := x(m.rpm.step)-x(0), y(0)-y(m.power.step)
			d.rect(fmt.Sprintf("heat-%d", level), x(float64(c)*m.rpm.step), y(float64(r+1)*m.power.step), w, h)
		}
	}
	ticks := niceScale(0, m.rpm.high, 8)
	for _, t := range ticks.marks() {
		if t <= m.rpm.high {
			d.text("tick mid", x(t), height-bottom+14, grouped(t, 0))
		}
	}
	for _, t := range niceScale(0, m.power.high, 6).marks() {
		if t <= m.power.high {
			d.line("rule", left, y(t), width-8, y(t))
			d.text("tick end", left-5, y(t)+3.5, grouped(t, 0))
		}
	}
	for _, edge := range [][]float64{m.low, m.high} {
		t := trail{}
		for r, rpm := range edge {
			if finite(rpm) && rpm <= m.rpm.high {
				t.to(x(rpm), y((float64(r)+0.5)*m.power.step))
			} else {
				t.down = false
			}
		}
		d.path("line-band thick", t.data())
	}
	d.text("tick end", width-8, height-6, "motor speed, rpm")
	d.text("tick", 0, top+4, "W")
	return d.end()
}

// chart is the interactive map: cells on category axes, the band's edges on
// value axes over the same ground.
func (m motorMap) chart(id string) chart {
	c := charts.NewHeatMap()
	c.ChartID = id
	c.Theme = ""
	c.SetGlobalOptions(
		charts.WithAnimation(false),
		charts.WithLegendOpts(opts.Legend{Show: opts.Bool(false)}),
		charts.WithTooltipOpts(opts.Tooltip{Show: opts.Bool(false)}),
		charts.WithGridOpts(opts.Grid{Left: "52", Right: "8", Top: "8", Bottom: "34"}),
		charts.WithVisualMapOpts(opts.VisualMap{
			Type: "continuous", Show: opts.Bool(false), Min: 0, Max: 1, Dimension: "2",
			InRange: &opts.VisualMapInRange{Color: []string{ink("heat-1"), ink("heat-2"), ink("heat-3"), ink("heat-4"), ink("heat-5"), ink("heat-6")}},
		}),
	)
	hidden := func(cells int) ([]string, opts.AxisLabel) {
		return make([]string, cells), opts.AxisLabel{Show: opts.Bool(false)}
	}
	columns, noLabel := hidden(len(m.seconds[0]))
	rows, _ := hidden(len(m.seconds))
	value := clockAxisOption(scale{0, m.rpm.high, 0}, true)
	value.Position = "bottom"
	c.SetGlobalOptions(
		charts.WithXAxisOpts(opts.XAxis{Type: "category", Show: opts.Bool(false), AxisLabel: &noLabel}),
		charts.WithYAxisOpts(opts.YAxis{Type: "category", Show: opts.Bool(false), Data: rows, AxisLabel: &noLabel}),
	)
	c.XAxisList[0].Data = columns // a heat map's Validate does not move them there
	c.ExtendXAxis(value)
	power := valueAxis(scale{0, m.power.high, niceScale(0, m.power.high, 6).step}, true)
	power.Position = "left"
	c.ExtendYAxis(power)

	var cells []opts.HeatMapData
	for r, row := range m.seconds {
		for k, s := range row {
			if s > 0 {
				cells = append(cells, opts.HeatMapData{Name: m.cell(r, k), Value: [3]float64{float64(k), float64(r), math.Round(m.share(s)*1000) / 1000}})
			}
		}
	}
	c.AddSeries("time", cells)
	for k, edge := range [][]float64{m.low, m.high} {
		var line [][2]*float64
		for r, rpm := range edge {
			w := (float64(r) + 0.5) * m.power.step
			pair := [2]*float64{nil, &w}
			if finite(rpm) && rpm <= m.rpm.high {
				rounded := math.Round(rpm)
				pair[0] = &rounded
			}
			line = append(line, pair)
		}
		c.MultiSeries = append(c.MultiSeries, charts.SingleSeries{
			Name: []string{"band from", "band to"}[k], Type: types.ChartLine, XAxisIndex: 1, YAxisIndex: 1,
			ShowSymbol: opts.Bool(false), Symbol: "none", Data: line, Animation: opts.Bool(false),
			LineStyle: &opts.LineStyle{Color: ink("band"), Width: 2.5}, ItemStyle: &opts.ItemStyle{Color: ink("band")},
		})
	}
	return finish(id, c)
}
