package report

import (
	"html/template"

	"github.com/go-echarts/go-echarts/v2/charts"
	"github.com/go-echarts/go-echarts/v2/opts"
	"github.com/go-echarts/go-echarts/v2/types"
)

// A plot is a few curves over one axis, with both its forms: drawn and
// interactive.
type plot struct {
	x, y         scale
	xUnit, yUnit string
	curves       []curve
}

// A curve is y over x in the reader's units, NaN in gaps.
type curve struct {
	name   string
	x, y   []float64
	ink    string
	thick  bool
	dashed bool
	below  []float64 // where set, the ground between it and y is filled, and no line drawn
	hidden bool      // no entry in the legend
}

// key is one entry of a legend.
type key struct {
	Name, Ink     string
	Thick, Dashed bool
}

func (p plot) legend() []key {
	var keys []key
	for _, c := range p.curves {
		if !c.hidden {
			keys = append(keys, key{c.name, c.ink, c.thick, c.dashed})
		}
	}
	return keys
}

func (p plot) draw(label string) template.HTML { return p.drawn(720, 340, "motor-map", label) }

func (p plot) drawn(width, height float64, class, label string) template.HTML {
	const left, bottom, top = 52.0, 36.0, 10.0
	d := newDrawing(width, height, class, label)
	x := func(v float64) float64 { return left + p.x.at(v)*(width-left-10) }
	y := func(v float64) float64 { return height - bottom - p.y.at(v)*(height-bottom-top) }
	for _, m := range p.y.marks() {
		d.line("rule", left, y(m), width-10, y(m))
		d.text("tick end", left-5, y(m)+3.5, grouped(m, markDigits(p.y.step)))
	}
	for _, m := range p.x.marks() {
		d.text("tick mid", x(m), height-bottom+15, grouped(m, markDigits(p.x.step)))
	}
	for _, c := range p.curves {
		if c.below != nil {
			d.path("area-"+c.ink, c.ground(x, y))
			continue
		}
		t := trail{}
		for k := range c.x {
			if c.x[k] > p.x.high || c.y[k] > p.y.high*1.001 || c.y[k] < p.y.low {
				t.down = false
				continue
			}
			t.to(x(c.x[k]), y(c.y[k]))
		}
		class := "line-" + c.ink
		if c.thick {
			class += " thick"
		}
		if c.dashed {
			class += " dashed"
		}
		d.path(class, t.data())
	}
	d.text("tick end", width-10, height-4, p.xUnit)
	d.text("tick", 0, top+2, p.yUnit)
	return d.end()
}

func (p plot) chart(id string) chart {
	c := base(id, opts.Grid{Left: "52", Right: "10", Top: "10", Bottom: "30"})
	c.SetGlobalOptions(charts.WithTooltipOpts(opts.Tooltip{Show: opts.Bool(true), Trigger: "axis"}))
	x := clockAxisOption(p.x, true)
	x.MinInterval, x.MaxInterval = p.x.step, p.x.step
	c.SetGlobalOptions(charts.WithXAxisOpts(x), charts.WithYAxisOpts(valueAxis(p.y, true)))
	for _, l := range p.curves {
		if l.below != nil {
			c.MultiSeries = append(c.MultiSeries, l.shade()...)
			continue
		}
		s := charts.SingleSeries{
			Name: l.name, Type: types.ChartLine, Data: pairs{l.x, l.y}, ShowSymbol: opts.Bool(false), Symbol: "none", Animation: opts.Bool(false),
			LineStyle: &opts.LineStyle{Color: ink(l.ink), Width: 1.6}, ItemStyle: &opts.ItemStyle{Color: ink(l.ink)},
		}
		if l.thick {
			s.LineStyle.Width = 3.2
		}
		if l.dashed {
			s.LineStyle.Type = "dashed"
		}
		c.MultiSeries = append(c.MultiSeries, s)
	}
	return finish(id, c)
}

// ground is the outline of what lies between the curve and the one below it.
func (c curve) ground(x, y func(float64) float64) string {
	t := trail{}
	for k := range c.x {
		if finite(c.y[k]) && finite(c.below[k]) {
			t.to(x(c.x[k]), y(c.y[k]))
		}
	}
	for k := len(c.x) - 1; k >= 0; k-- {
		if finite(c.y[k]) && finite(c.below[k]) {
			t.to(x(c.x[k]), y(c.below[k]))
		}
	}
	return t.data() + "z"
}

// shade is the same as two stacked series, the lower one unseen and silent.
func (c curve) shade() charts.MultiSeries {
	lower := charts.SingleSeries{
		Name: c.name + ", lower edge", Type: types.ChartLine, Stack: "shade", Data: pairs{c.x, c.below}, ShowSymbol: opts.Bool(false), Symbol: "none",
		Animation: opts.Bool(false), LineStyle: &opts.LineStyle{Width: 0.01, Color: ink(c.ink)}, ItemStyle: &opts.ItemStyle{Color: ink(c.ink)},
	}
	upper := lower
	upper.Name, upper.Data = c.name, pairs{c.x, difference(c.y, c.below)}
	upper.AreaStyle = &opts.AreaStyle{Color: ink(c.ink), Opacity: opts.Float(0.8)}
	return charts.MultiSeries{lower, upper}
}

// pairs are [x, y] points, null in gaps.
type pairs struct{ x, y []float64 }

// MarshalJSON writes what can be seen of the numbers.
func (p pairs) MarshalJSON() ([]byte, error) {
	b := []byte{'['}
	for k := range p.x {
		if k > 0 {
			b = append(b, ',')
		}
		b = append(b, '[')
		b = appendNumber(b, p.x[k], 2)
		b = append(b, ',')
		b = appendNumber(b, p.y[k], 2)
		b = append(b, ']')
	}
	return append(b, ']'), nil
}
