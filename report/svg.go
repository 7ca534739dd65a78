package report

import (
	"fmt"
	"html/template"
	"strconv"
	"strings"
)

// A drawing is an SVG under construction. Colours come from the style sheet by
// class, so that light, dark and print agree; there are no style attributes,
// which the page's policy forbids.
type drawing struct{ b strings.Builder }

// newDrawing starts a drawing of the given size. The label is what a screen
// reader says.
func newDrawing(width, height float64, class, label string) *drawing {
	d := &drawing{}
	fmt.Fprintf(&d.b, `<svg class="%s" viewBox="0 0 %s %s" role="img" aria-label="%s">`, class, px(width), px(height), template.HTMLEscapeString(label))
	return d
}

func (d *drawing) end() template.HTML { d.b.WriteString("</svg>"); return template.HTML(d.b.String()) }

func (d *drawing) line(class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(&d.b, `<path class="%s" d="M%s %sL%s %s"/>`, class, px(x1), px(y1), px(x2), px(y2))
}

func (d *drawing) rect(class string, x, y, w, h float64) {
	fmt.Fprintf(&d.b, `<rect class="%s" x="%s" y="%s" width="%s" height="%s"/>`, class, px(x), px(y), px(w), px(h))
}

func (d *drawing) circle(class string, x, y, r float64) {
	fmt.Fprintf(&d.b, `<circle class="%s" cx="%s" cy="%s" r="%s"/>`, class, px(x), px(y), px(r))
}

func (d *drawing) path(class, data string) {
	if data != "" {
		fmt.Fprintf(&d.b, `<path class="%s" d="%s"/>`, class, data)
	}
}

// text writes escaped text; the class tells size, colour and anchor.
func (d *drawing) text(class string, x, y float64, s string) {
	fmt.Fprintf(&d.b, `<text class="%s" x="%s" y="%s">%s</text>`, class, px(x), px(y), template.HTMLEscapeString(s))
}

// px prints a coordinate with a tenth of a pixel.
func px(v float64) string {
	s := strconv.FormatFloat(v, 'f', 1, 64)
	return strings.TrimSuffix(s, ".0")
}

// A trail builds the data of a path from points in tenths of a pixel, written
// relative to one another to stay small. NaN lifts the pen.
type trail struct {
	b        strings.Builder
	x, y     int
	down     bool
	straight bool // horizontal then vertical, for stepped lines
}

func (t *trail) to(x, y float64) {
	if !finite(x) || !finite(y) {
		t.down = false
		return
	}
	X, Y := int(x*10+0.5), int(y*10+0.5)
	switch {
	case !t.down:
		t.b.WriteByte('M')
		t.pair(X, Y)
	case t.straight:
		t.b.WriteByte('h')
		t.tenth(X - t.x)
		if Y != t.y {
			t.b.WriteByte('v')
			t.tenth(Y - t.y)
		}
	case X == t.x && Y == t.y:
		return
	default:
		t.b.WriteByte('l')
		t.pair(X-t.x, Y-t.y)
	}
	t.x, t.y, t.down = X, Y, true
}

func (t *trail) pair(x, y int) {
	t.tenth(x)
	if y >= 0 {
		t.b.WriteByte(' ')
	}
	t.tenth(y)
}

// tenth writes n/10 in as few characters as can be.
func (t *trail) tenth(n int) {
	if n < 0 {
		t.b.WriteByte('-')
		n = -n
	}
	if n >= 10 || n%10 == 0 {
		t.b.WriteString(strconv.Itoa(n / 10))
	}
	if n%10 != 0 {
		t.b.WriteByte('.')
		t.b.WriteByte(byte('0' + n%10))
	}
}

func (t *trail) data() string { return t.b.String() }
