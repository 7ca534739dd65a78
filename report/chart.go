package report

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"
	"github.com/go-echarts/go-echarts/v2/types"
)

// A chart is the option object of one interactive chart, as the start script
// reads it from a data block. Colours are names of the style sheet,
// "var(--ink)"; the script looks them up, so that light and dark both fit.
type chart struct {
	id     string
	option map[string]any
}

// points is the data of a line: [second, value] pairs, null in gaps. JSON knows
// no NaN, and the chart library draws a gap where it reads null.
type points struct {
	seconds []int
	values  []float64
	digits  int
	stacked bool // stacked lines are matched by index and keep every point
}

// MarshalJSON writes the pairs with no more digits than can be seen.
func (p points) MarshalJSON() ([]byte, error) {
	b := make([]byte, 0, 12*len(p.seconds)+2)
	b = append(b, '[')
	for k, s := range p.seconds {
		if !p.stacked && k > 0 && !finite(p.values[k]) && !finite(p.values[k-1]) {
			continue // one null is gap enough
		}
		if len(b) > 1 {
			b = append(b, ',')
		}
		b = append(b, '[')
		b = strconv.AppendInt(b, int64(s), 10)
		b = append(b, ',')
		b = appendNumber(b, p.values[k], p.digits)
		b = append(b, ']')
	}
	return append(b, ']'), nil
}

// appendNumber writes v rounded to digits decimals without trailing zeros, null
// when it is not finite.
func appendNumber(b []byte, v float64, digits int) []byte {
	if !finite(v) {
		return append(b, "null"...)
	}
	start := len(b)
	b = strconv.AppendFloat(b, v, 'f', digits, 64)
	if digits > 0 {
		for b[len(b)-1] == '0' {
			b = b[:len(b)-1]
		}
		if b[len(b)-1] == '.' {
			b = b[:len(b)-1]
		}
	}
	if string(b[start:]) == "-0" {
		b = append(b[:start], '0')
	}
	return b
}

// ink is a colour of the style sheet in an option object.
func ink(name string) string { return "var(--" + name + ")" }

// base is an empty chart on plain axes with everything switched off that the
// page does itself.
func base(id string, grid opts.Grid) *charts.Line {
	c := charts.NewLine()
	c.ChartID = id
	c.Theme = ""
	c.SetGlobalOptions(
		charts.WithAnimation(false),
		charts.WithLegendOpts(opts.Legend{Show: opts.Bool(false)}),
		charts.WithTooltipOpts(opts.Tooltip{Show: opts.Bool(false)}),
		charts.WithGridOpts(grid),
	)
	return c
}

// finish hands the options over. Validate comes first: it moves the axis data
// to where JSON looks for them.
func finish(id string, c interface {
	Validate()
	JSON() map[string]any
}) chart {
	c.Validate()
	option := c.JSON()
	if s, ok := option["series"].(charts.MultiSeries); ok && s == nil {
		option["series"] = charts.MultiSeries{}
	}
	return chart{id, option}
}

// valueAxis is an upright axis with quiet lines; without labels it only scales.
func valueAxis(s scale, labels bool) opts.YAxis {
	return opts.YAxis{
		Type: "value", Min: s.low, Max: s.high, MinInterval: s.step, MaxInterval: s.step,
		SplitLine: &opts.SplitLine{Show: opts.Bool(true), LineStyle: &opts.LineStyle{Color: ink("rule"), Width: 1}},
		AxisLine:  &opts.AxisLine{Show: opts.Bool(false)},
		AxisLabel: &opts.AxisLabel{Show: opts.Bool(labels), Color: ink("quiet"), FontSize: 11},
	}
}

func clockAxisOption(clock scale, labels bool) opts.XAxis {
	return opts.XAxis{
		Type: "value", Min: clock.low, Max: clock.high,
		SplitLine: &opts.SplitLine{Show: opts.Bool(false)},
		AxisLine:  &opts.AxisLine{Show: opts.Bool(true), LineStyle: &opts.LineStyle{Color: ink("line")}},
		AxisTick:  &opts.AxisTick{Show: opts.Bool(labels), LineStyle: &opts.LineStyle{Color: ink("line")}},
		AxisLabel: &opts.AxisLabel{Show: opts.Bool(labels), Color: ink("quiet"), FontSize: 11},
	}
}

// clockHeight is the room under a row for the words of the time axis, px.
const clockHeight = 22

// chart is the interactive form of one row of the strip. The last row carries
// the clock.
func (p panel) chart(id string, clock scale, last bool) chart {
	grid := opts.Grid{Left: "52", Right: "8", Top: "8", Bottom: "4"}
	if last {
		grid.Bottom = fmt.Sprint(clockHeight)
	}
	c := base(id, grid)
	c.SetGlobalOptions(charts.WithXAxisOpts(clockAxisOption(clock, last)))
	y := valueAxis(p.scale, true)
	if p.steps != nil {
		y.Type, y.Min, y.Max, y.MinInterval, y.MaxInterval, y.Data = "category", nil, nil, 0, 0, p.steps
	}
	c.SetGlobalOptions(charts.WithYAxisOpts(y))
	for k, l := range p.lines {
		if l.look.stack == "band" && !l.look.hidden && k > 0 {
			l.values = difference(l.values, p.lines[k-1].values) // it lies on the line before
		}
		c.MultiSeries = append(c.MultiSeries, l.series(p.seconds, p.seenDigits()))
	}
	return finish(id, c)
}

func difference(a, b []float64) []float64 {
	d := make([]float64, len(a))
	for i := range d {
		d[i] = a[i] - b[i]
	}
	return d
}

// seenDigits is how many decimals can be seen in a row: a four-hundredth of its
// scale is less than half a pixel.
func (p panel) seenDigits() int {
	if p.steps != nil {
		return 0
	}
	return max(0, min(3, int(math.Ceil(-math.Log10((p.scale.high-p.scale.low)/400)))))
}

func (l line) series(seconds []int, digits int) charts.SingleSeries {
	s := charts.SingleSeries{
		Name: l.name, Type: types.ChartLine, Stack: l.look.stack,
		ShowSymbol: opts.Bool(false), Animation: opts.Bool(false), Symbol: "none",
		Data:      points{seconds, l.values, digits, l.look.stack != ""},
		LineStyle: &opts.LineStyle{Color: ink(l.look.ink), Width: float32(l.look.width)},
		ItemStyle: &opts.ItemStyle{Color: ink(l.look.ink)},
	}
	if l.look.dashed {
		s.LineStyle.Type = "dashed"
	}
	if l.look.step {
		s.Step = "end"
	}
	if l.look.area {
		s.AreaStyle = &opts.AreaStyle{Color: ink(l.look.fill()), Opacity: opts.Float(1)}
	}
	if l.look.stack != "" {
		s.LineStyle.Width = 0.01
	}
	if l.look.hidden {
		s.AreaStyle = nil
	}
	return s
}

// ribbonChart is the interactive form of the classes along the ride: one filled
// line a class, and the numbers of the spots above.
func (v *view) ribbonChart(id string, clock scale) chart {
	c := base(id, opts.Grid{Left: "52", Right: "8", Top: "2", Bottom: "20"})
	y := valueAxis(scale{0, 1.8, 1}, false)
	y.SplitLine.Show = opts.Bool(false)
	c.SetGlobalOptions(charts.WithXAxisOpts(clockAxisOption(clock, true)), charts.WithYAxisOpts(y))
	runs := v.runs(1500)
	for _, class := range classes() {
		var p points
		for _, r := range runs {
			if r.class != class {
				continue
			}
			p.seconds = append(p.seconds, r.from, r.to, r.to)
			p.values = append(p.values, 1, 1, nan())
		}
		if p.seconds == nil {
			continue
		}
		c.MultiSeries = append(c.MultiSeries, charts.SingleSeries{
			Name: class.String(), Id: "class-" + classInk(class), Type: types.ChartLine,
			ShowSymbol: opts.Bool(false), Animation: opts.Bool(false), Symbol: "none",
			Data:      p,
			LineStyle: &opts.LineStyle{Width: 0.01, Color: ink(classInk(class))},
			ItemStyle: &opts.ItemStyle{Color: ink(classInk(class))},
			AreaStyle: &opts.AreaStyle{Color: ink(classInk(class)), Opacity: opts.Float(1)},
		})
	}
	var marks []opts.ScatterData
	for _, s := range v.spotsInTime() {
		marks = append(marks, opts.ScatterData{Name: fmt.Sprint(s.number), Value: []float64{float64(s.From+s.To) / 2, 1.4}})
	}
	if marks != nil {
		c.MultiSeries = append(c.MultiSeries, charts.SingleSeries{
			Name: "spots", Type: types.ChartScatter, Data: marks, SymbolSize: 1, Animation: opts.Bool(false),
			ItemStyle:   &opts.ItemStyle{Color: ink("ink")},
			Label:       &opts.Label{Show: opts.Bool(true), Formatter: "{b}", Color: ink("ink"), FontSize: 11, Position: "inside"},
			LabelLayout: &opts.LabelLayout{HideOverlap: opts.Bool(true)},
		})
	}
	return finish(id, c)
}

// block writes the option for a data block. encoding/json escapes <, > and &,
// so that no text can end the block.
func (c chart) block() ([]byte, error) {
	data, err := json.Marshal(c.option)
	if err != nil {
		return nil, fmt.Errorf("chart %s: %w", c.id, err)
	}
	return data, nil
}
