package report

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"cogledger/analysis/drive"
)

// Sizes of the drawn strip, in its own units (about a pixel at 720 wide).
const (
	stripWidth = 720.0
	stripLeft  = 52.0
	stripRight = 8.0
)

// classes lists the motor's classes in the order of the legend.
func classes() []drive.Class {
	return []drive.Class{drive.Lugging, drive.InBand, drive.SpinningOut, drive.Resting, drive.Coasting, drive.Stopped, drive.Unclassed}
}

// classInk names a class in the style sheet.
func classInk(c drive.Class) string {
	return [...]string{"none", "stop", "coast", "rest", "lug", "band", "spin"}[c]
}

// clockAxis is the scale of a strip's time axis, with round steps of time.
func (v *view) clockAxis() scale {
	span := float64(v.to - v.from)
	step := 36000.0
	for _, s := range []float64{10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 18000} {
		if span/s <= 7 {
			step = s
			break
		}
	}
	return scale{float64(v.from), float64(max(v.to, v.from+1)), step}
}

// strip draws all rows under one another for print and for builds without the
// chart library.
func (v *view) strip(panels []panel) template.HTML {
	const gap, head = 7.0, 20.0
	ribbon := 30.0
	if !v.Bears.Motor.Given() {
		ribbon = 0
	}
	height := head + ribbon + gap + 22
	for _, p := range panels {
		height += head + gap
		if p.why == "" {
			height += p.drawnHeight()
		}
	}
	d := newDrawing(stripWidth, height, "strip-still", "The ride over time, row by row; the table below has the same in numbers.")
	clock := v.clockAxis()
	x := func(second float64) float64 {
		return stripLeft + clock.at(second)*(stripWidth-stripLeft-stripRight)
	}
	y := head
	if ribbon > 0 {
		d.text("row-title", 0, y-8, "How the motor ran")
		v.ribbon(d, x, y+12, ribbon-12)
	}
	y += ribbon + gap
	for _, p := range panels {
		y += head
		title := p.title
		if p.unit != "" {
			title += " (" + p.unit + ")"
		}
		if p.why != "" {
			d.text("row-title", 0, y-8, title+": "+unknown+", "+p.why)
			y += gap
			continue
		}
		d.text("row-title", 0, y-8, title)
		legend(d, p, stripWidth-stripRight, y-8)
		p.draw(d, x, y, clock)
		y += p.drawnHeight() + gap
	}
	for t := math.Ceil(clock.low/clock.step) * clock.step; t <= clock.high; t += clock.step {
		d.text("tick mid", x(t), y+8, span(int(t)))
	}
	return d.end()
}

// ribbon draws the classes along the ride, with the numbered spots above them.
func (v *view) ribbon(d *drawing, x func(float64) float64, y, h float64) {
	for _, r := range v.runs(1500) {
		d.rect("fill-"+classInk(r.class), x(float64(r.from)), y, math.Max(0.4, x(float64(r.to))-x(float64(r.from))), h)
	}
	last := math.Inf(-1)
	for _, s := range v.spotsInTime() {
		at := x(float64(s.From+s.To) / 2)
		if at-last < 12 {
			continue
		}
		last = at
		d.text("spot-number mid", at, y-2, fmt.Sprint(s.number))
	}
}

// drawnHeight is a row's height on paper, where the whole strip is to fit a page.
func (p panel) drawnHeight() float64 { return 0.7 * float64(p.height) }

// draw puts one row at height y.
func (p panel) draw(d *drawing, x func(float64) float64, y float64, clock scale) {
	h := p.drawnHeight()
	at := func(v float64) float64 { return y + h*(1-math.Min(1.02, math.Max(-0.02, p.scale.at(v)))) }
	left, right := x(clock.low), x(clock.high)
	if p.steps != nil {
		every := max(1, int(math.Ceil(float64(len(p.steps))*11/h)))
		for k := 0; k < len(p.steps); k += every {
			d.line("rule", left, at(float64(k)), right, at(float64(k)))
			d.text("tick end", left-5, at(float64(k))+3.5, p.steps[k])
		}
	} else {
		for _, m := range p.scale.marks() {
			d.line("rule", left, at(m), right, at(m))
			d.text("tick end", left-5, at(m)+3.5, grouped(m, markDigits(p.scale.step)))
		}
	}
	base := map[string][]float64{}
	for _, l := range p.lines {
		values := l.values
		below := base[l.look.stack]
		if l.look.stack != "" {
			if l.look.stack != "band" && below != nil {
				values = sum(below, values)
			}
			base[l.look.stack] = values
		}
		if l.look.hidden {
			continue
		}
		if l.look.area {
			d.path("area-"+l.look.fill(), p.area(x, at, values, below))
		}
		if l.look.width > 0 && l.look.stack == "" {
			t := trail{straight: l.look.step}
			for k, s := range p.seconds {
				t.to(x(float64(s)), at(values[k]))
			}
			class := "line-" + l.look.ink
			if l.look.width >= 2.5 {
				class += " thick"
			}
			if l.look.dashed {
				class += " dashed"
			}
			d.path(class, t.data())
		}
	}
}

// area is the outline between a line and the one below it (zero or the axis
// without one), closed at gaps.
func (p panel) area(x, at func(float64) float64, top, below []float64) string {
	floor := math.Max(p.scale.low, math.Min(0, p.scale.high))
	var b strings.Builder
	start := -1
	flush := func(end int) {
		if start < 0 || end-start < 2 {
			start = -1
			return
		}
		var t trail
		for k := start; k < end; k++ {
			t.to(x(float64(p.seconds[k])), at(top[k]))
		}
		if below == nil {
			t.to(x(float64(p.seconds[end-1])), at(floor))
			t.to(x(float64(p.seconds[start])), at(floor))
		} else {
			for k := end - 1; k >= start; k-- {
				t.to(x(float64(p.seconds[k])), at(below[k]))
			}
		}
		b.WriteString(t.data() + "z")
		start = -1
	}
	for k := range top {
		known := finite(top[k]) && (below == nil || finite(below[k]))
		if known && start < 0 {
			start = k
		} else if !known {
			flush(k)
		}
	}
	flush(len(top))
	return b.String()
}

// legend names the lines of a row at its right edge, last line first.
func legend(d *drawing, p panel, right, y float64) {
	if len(p.lines) < 2 {
		return
	}
	for k := len(p.lines) - 1; k >= 0; k-- {
		l := p.lines[k]
		if l.look.hidden {
			continue
		}
		name := l.name
		if l.look.stack == "band" {
			name = "efficient band"
		}
		right -= 5.2*float64(len([]rune(name))) + 4
		d.text("tick", right, y, name)
		switch {
		case l.look.area:
			d.rect("area-"+l.look.fill(), right-14, y-8, 10, 8)
		case l.look.dashed:
			d.line("line-"+l.look.ink+" dashed", right-16, y-3.5, right-4, y-3.5)
		case l.look.width >= 2.5:
			d.line("line-"+l.look.ink+" thick", right-16, y-3.5, right-4, y-3.5)
		default:
			d.line("line-"+l.look.ink, right-16, y-3.5, right-4, y-3.5)
		}
		right -= 26
	}
}

// markDigits is how many decimals an axis of this step needs.
func markDigits(step float64) int {
	digits := 0
	for digits < 4 && math.Abs(step-math.Round(step)) > 1e-9 {
		step *= 10
		digits++
	}
	return digits
}

// spotsInTime lists the numbered spots in order of time.
func (v *view) spotsInTime() []spot {
	var ordered []spot
	for _, m := range v.Moments {
		for _, s := range v.spots {
			if s.From == m.From && s.To == m.To && s.Advised {
				ordered = append(ordered, s)
				break
			}
		}
	}
	return ordered
}
