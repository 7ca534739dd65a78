package coach

import (
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"

	"cogledger/analysis/doubt"
	"cogledger/analysis/lesson"
	"cogledger/analysis/trend"
)

// A drawing is an SVG whose colours come from the style sheet by class.
type drawing struct{ b strings.Builder }

func newDrawing(width, height float64, label string) *drawing {
	d := &drawing{}
	fmt.Fprintf(&d.b, `<svg viewBox="0 0 %s %s" role="img" aria-label="%s">`, px(width), px(height), template.HTMLEscapeString(label))
	return d
}

func (d *drawing) end() template.HTML { return template.HTML(d.b.String() + "</svg>") }

func (d *drawing) line(class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(&d.b, `<path class="%s" d="M%s %sL%s %s"/>`, class, px(x1), px(y1), px(x2), px(y2))
}

func (d *drawing) rect(class string, x, y, w, h float64) {
	if w > 0 && h > 0 {
		fmt.Fprintf(&d.b, `<rect class="%s" x="%s" y="%s" width="%s" height="%s"/>`, class, px(x), px(y), px(w), px(h))
	}
}

func (d *drawing) dot(class string, x, y, r float64) {
	fmt.Fprintf(&d.b, `<circle class="%s" cx="%s" cy="%s" r="%s"/>`, class, px(x), px(y), px(r))
}

func (d *drawing) path(class, data string) {
	fmt.Fprintf(&d.b, `<path class="%s" d="%s"/>`, class, data)
}

func (d *drawing) text(class string, x, y float64, s string) {
	fmt.Fprintf(&d.b, `<text class="%s" x="%s" y="%s">%s</text>`, class, px(x), px(y), template.HTMLEscapeString(s))
}

func px(v float64) string {
	return strings.TrimSuffix(strconv.FormatFloat(v, 'f', 1, 64), ".0")
}

const (
	pictureW = 300.0
	pictureH = 170.0
)

func pictures(l lesson.Lesson, g gearWords, u units) []picture {
	var all []picture
	if l.Turns != nil {
		all = append(all, picture{
			Title:   "Your legs and your motor",
			Caption: "Minutes with the motor at work, by how often the legs turn in a minute. Hatched: it laboured. Plain: it ran well. Dotted: too fast.",
			Drawing: drawTurns(l),
		})
	}
	if c := l.Climb; c != nil && len(c.Shape) > 2 {
		all = append(all, picture{
			Title:   "The hill to shift before",
			Caption: fmt.Sprintf("The climb at %s. Take %s at the mark.", u.place(c.Moment.StartM), g.short(c.Moment.GearTo)),
			Drawing: drawClimb(*c, g, u),
		})
	}
	return all
}

// drawTurns stacks the minutes of the three ways to run in steps of five turns.
func drawTurns(l lesson.Lesson) template.HTML {
	const left, bottom, top = 30.0, 30.0, 30.0
	from, to := filled(l.Turns)
	most := 0.0
	for _, t := range l.Turns[from:to] {
		most = max(most, minutes(t.Lugging+t.InBand+t.TooFast))
	}
	label := "Minutes of labouring and of running well by turns of the legs"
	if l.Cadence != nil {
		label += "; " + goal(*l.Cadence)
	}
	d := newDrawing(pictureW, pictureH, label)
	step := niceStep(most, 4)
	ceiling := math.Ceil(most/step-1e-9) * step
	y := func(v float64) float64 { return pictureH - bottom - (pictureH-bottom-top)*v/ceiling }
	for v := 0.0; v <= ceiling*1.001; v += step {
		d.line("rule", left, y(v), pictureW-6, y(v))
		d.text("tick end", left-4, y(v)+3.5, number(v))
	}
	d.text("tick", 0, 22, "min")
	w := (pictureW - left - 6) / float64(to-from)
	for k, t := range l.Turns[from:to] {
		x, base := left+w*float64(k), 0.0
		for _, part := range []struct {
			class string
			s     int
		}{{"lug", t.Lugging}, {"band", t.InBand}, {"spin", t.TooFast}} {
			d.rect(part.class, x+1, y(base+minutes(part.s)), w-2, y(base)-y(base+minutes(part.s)))
			base += minutes(part.s)
		}
		if t.From%10 == 0 {
			d.text("tick mid", x, pictureH-bottom+12, strconv.Itoa(t.From))
		}
	}
	d.text("tick mid", (left+pictureW)/2, pictureH-3, "turns of the legs in a minute")
	if c := l.Cadence; c != nil {
		x := left + w*float64(max(0, min((c.ShiftBelow-l.Turns[from].From)/5, to-from)))
		d.line("goal", x, 16, x, pictureH-bottom)
		d.text("goal-text mid", max(left+50, min(x, pictureW-80)), 11, goal(*c))
	}
	return d.end()
}

func goal(c lesson.Cadence) string {
	if c.OnClimbs {
		return fmt.Sprintf("on climbs shift down below %d", c.ShiftBelow)
	}
	return fmt.Sprintf("shift down below %d", c.ShiftBelow)
}

func minutes(seconds int) float64 { return float64(seconds) / 60 }

// filled is the range of steps that hold at least 0.5 % of the time, with a step
// to spare.
func filled(turns []lesson.Turns) (from, to int) {
	total := 0
	for _, t := range turns {
		total += t.Lugging + t.InBand + t.TooFast
	}
	from, to = len(turns), 0
	for k, t := range turns {
		if total > 0 && 200*(t.Lugging+t.InBand+t.TooFast) >= total {
			from, to = min(from, k), k+1
		}
	}
	return max(0, from-1), min(len(turns), to+1)
}

// drawClimb is the height along the road with the place to shift.
func drawClimb(c lesson.Climb, g gearWords, u units) template.HTML {
	const left, bottom, top = 34.0, 30.0, 34.0
	first, last := c.Shape[0], c.Shape[len(c.Shape)-1]
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range c.Shape {
		low, high = min(low, p.Height), max(high, p.Height)
	}
	if high-low < 5 {
		high = low + 5
	}
	x := func(m float64) float64 {
		return left + (pictureW-left-8)*(m-first.Metres)/(last.Metres-first.Metres)
	}
	y := func(h float64) float64 { return pictureH - bottom - (pictureH-bottom-top)*(h-low)/(high-low) }
	d := newDrawing(pictureW, pictureH, fmt.Sprintf("Height along the road; take %s before the climb at %s", g.short(c.Moment.GearTo), u.place(c.Moment.StartM)))
	var ground strings.Builder
	at := y(first.Height)
	for k, p := range c.Shape {
		if p.Metres <= c.Moment.StartM {
			at = y(p.Height)
		}
		mark := "L"
		if k == 0 {
			mark = "M"
		}
		ground.WriteString(mark + px(x(p.Metres)) + " " + px(y(p.Height)))
	}
	d.path("hill", ground.String()+fmt.Sprintf("L%s %sL%s %sZ", px(x(last.Metres)), px(pictureH-bottom), px(x(first.Metres)), px(pictureH-bottom)))
	d.path("ridge", ground.String())
	sx := x(c.Moment.StartM)
	d.line("goal", sx, 22, sx, at)
	d.dot("goal-dot", sx, at, 3.5)
	d.text("goal-text mid", max(left+50, min(sx, pictureW-60)), 14, "shift here: "+g.short(c.Moment.GearFrom)+" → "+g.short(c.Moment.GearTo))
	height := func(m float64) string {
		if u.imperial {
			return fmt.Sprintf("%.0f ft", m/0.3048)
		}
		return fmt.Sprintf("%.0f m", m)
	}
	d.text("tick end", left-4, y(high)+8, height(high))
	d.text("tick end", left-4, y(low), height(low))
	d.text("tick", left, pictureH-bottom+12, u.place(first.Metres))
	d.text("tick end", pictureW-8, pictureH-bottom+12, u.place(last.Metres))
	return d.end()
}

// drawChanges sets the two main figures before and after side by side.
func drawChanges(c trend.Comparison, u units) template.HTML {
	const left, right, row = 6.0, 8.0, 70.0
	var shown []trend.Change
	for _, ch := range c.Changes {
		if ch.Key == trend.LuggingShare || ch.Key == trend.EnergyPerKm {
			shown = append(shown, ch)
		}
	}
	if len(shown) == 0 {
		return ""
	}
	d := newDrawing(pictureW, pictureH, "Main figures before and after with their ranges; the table has the numbers")
	for k, ch := range shown {
		top := row*float64(k) + 14*float64(k)
		d.text("row-title", left, top+11, changeName(ch.Key, ch.Unit, u))
		most := 0.0
		sides := []doubt.Figure{reader(ch.Before, ch.Unit, u), reader(ch.After, ch.Unit, u)}
		for _, v := range []float64{sides[0].Value, sides[1].Value, sides[0].High, sides[1].High} {
			if !math.IsNaN(v) {
				most = max(most, v)
			}
		}
		if most == 0 {
			most = 1
		}
		x := func(v float64) float64 { return 52 + (pictureW-52-right-46)*max(0, v)/most }
		for side, f := range sides {
			y := top + 20 + 22*float64(side)
			name := [...]string{"before", "after"}[side]
			d.text("tick end", 48, y+10, name)
			d.rect("bar-"+name, 52, y, x(f.Value)-52, 14)
			end := x(f.Value)
			if f.Low < f.High {
				d.line("whisker", x(f.Low), y+7, x(f.High), y+7)
				d.line("whisker", x(f.Low), y+3.5, x(f.Low), y+10.5)
				d.line("whisker", x(f.High), y+3.5, x(f.High), y+10.5)
				end = x(f.High)
			}
			d.text("bar-text", end+5, y+11, fixed(f.Value, 1))
		}
	}
	return d.end()
}

// niceStep is a round step that fits about n times into most.
func niceStep(most float64, n int) float64 {
	if most <= 0 {
		return 1
	}
	raw := most / float64(n)
	power := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5, 10} {
		if raw <= m*power {
			return m * power
		}
	}
	return 10 * power
}
