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
//
// A row of the strip keeps its values apart from the options: one clock for all
// its lines, and each line a column. A series' data is then the number of its
// column, and the start script puts the two together.
type chart struct {
	id      string
	option  map[string]any
	clock   []int
	columns []dataColumn
}

// A dataColumn is the values of one line, NaN in gaps.
type dataColumn struct {
	values []float64
	digits int
}

// text writes a column as numbers with commas between, nothing where NaN: a
// gap costs one letter, and gaps are most of some lines.
func (c dataColumn) text() string {
	b := make([]byte, 0, 5*len(c.values))
	for k, v := range c.values {
		if k > 0 {
			b = append(b, ',')
		}
		if finite(v) {
			b = appendNumber(b, v, c.digits)
		}
	}
	return string(b)
}

// steps writes seconds as the first one and the steps from one to the next.
func steps(seconds []int) string {
	b := make([]byte, 0, 2*len(seconds))
	last := 0
	for k, s := range seconds {
		if k > 0 {
			b = append(b, ',')
		}
		b = strconv.AppendInt(b, int64(s-last), 10)
		last = s
	}
	return string(b)
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
	return chart{id: id, option: option}
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
	var columns []dataColumn
	for k, l := range p.lines {
		if l.look.stack == "band" && !l.look.hidden && k > 0 {
			l.values = difference(l.values, p.lines[k-1].values) // it lies on the line before
		}
		c.MultiSeries = append(c.MultiSeries, l.series(len(columns)))
		columns = append(columns, dataColumn{l.values, p.seenDigits()})
	}
	done := finish(id, c)
	done.clock, done.columns = p.seconds, columns
	return done
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

func (l line) series(column int) charts.SingleSeries {
	s := charts.SingleSeries{
		Name: l.name, Type: types.ChartLine, Stack: l.look.stack,
		ShowSymbol: opts.Bool(false), Animation: opts.Bool(false), Symbol: "none",
		Data:      column,
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
		var p [][2]*int // corners of the class's stretches, null between them
		one := 1
		for _, r := range runs {
			if r.class == class {
				p = append(p, [2]*int{&r.from, &one}, [2]*int{&r.to, &one}, [2]*int{&r.to, nil})
			}
		}
		if p == nil {
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

// block writes the options, and the columns where there are any, for a data
// block. encoding/json escapes <, > and &, so that no text can end the block.
func (c chart) block() ([]byte, error) {
	block := struct {
		Option map[string]any `json:"option"`
		T      string         `json:"t,omitempty"`
		V      []string       `json:"v,omitempty"`
	}{Option: c.option, T: steps(c.clock)}
	for _, column := range c.columns {
		block.V = append(block.V, column.text())
	}
	data, err := json.Marshal(block)
	if err != nil {
		return nil, fmt.Errorf("chart %s: %w", c.id, err)
	}
	return data, nil
}
