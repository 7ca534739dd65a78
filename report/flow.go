package report

import (
	"fmt"
	"html/template"
	"math"

	"cogledger/analysis/ledger"
)

// flow draws the books as a stream from battery and legs to the road. The
// width is 720 for screens and paper, 400 for phones.
func flow(books ledger.Books, width float64) template.HTML {
	f := newStream(books, width)
	if f == nil {
		return ""
	}
	return f.draw()
}

// A bar is one account at its place: bars on the left come in, those on the
// right are where the energy went.
type bar struct {
	account ledger.Account
	ink     string
	y, h    float64 // of the bar
	label   float64 // y of its label
}

type stream struct {
	width, height      float64
	perWh              float64
	narrow             bool
	battery, legs      bar
	motorAtWheel       bar // the battery's energy that reached the wheel
	losses, uses       []bar
	xLoss, xWheel, xUs float64
}

// newStream lays the bars out; nil when the books hold nothing to draw.
func newStream(books ledger.Books, width float64) *stream {
	if len(books.Battery) < 2 || len(books.Wheel) < 3 {
		return nil
	}
	stored, wheelIn := books.Battery[0].Wh, books.Wheel[0].Wh+books.Wheel[1].Wh
	if !(stored > 0) || !finite(wheelIn) {
		return nil
	}
	f := &stream{width: width, narrow: width < 600}
	tall := 250.0
	f.perWh = tall / math.Max(stored+math.Max(0, books.Wheel[1].Wh), wheelIn)
	f.xLoss, f.xWheel, f.xUs = 0.30*width, 0.56*width, 0.74*width
	if f.narrow {
		f.xLoss, f.xWheel, f.xUs = 0.22*width, 0.52*width, 0.66*width
	}
	f.battery = bar{account: books.Battery[0], ink: "ink", y: 24, h: stored * f.perWh}
	delivered := books.Battery[len(books.Battery)-1]
	f.motorAtWheel = bar{account: delivered, ink: "band", y: 24, h: math.Max(0, delivered.Wh) * f.perWh}
	f.legs = bar{account: books.Wheel[1], ink: "leg", h: math.Max(0, books.Wheel[1].Wh) * f.perWh}

	// losses leave below the stream that goes on to the wheel
	y := 24 + f.motorAtWheel.h + f.legs.h + 34
	for k, a := range books.Battery[1 : len(books.Battery)-1] {
		b := bar{account: a, ink: fmt.Sprintf("loss-%d", lossInk(k)), h: math.Max(0, a.Wh) * f.perWh}
		room := math.Max(b.h, 15)
		b.y, b.label = y+(room-b.h)/2, y+room/2+4
		f.losses = append(f.losses, b)
		y += room + 3
	}
	bottom := y
	f.legs.y = math.Max(24+f.battery.h+26, 24+f.motorAtWheel.h)
	bottom = math.Max(bottom, f.legs.y+math.Max(f.legs.h, 16)+18)
	y = 24
	for _, a := range books.Wheel[2:] {
		b := bar{account: a, ink: "earth", h: math.Max(0, a.Wh) * f.perWh}
		room := math.Max(b.h, 30)
		if f.narrow {
			room = math.Max(b.h, 32)
		}
		b.y, b.label = y+(room-b.h)/2, y+room/2
		f.uses = append(f.uses, b)
		y += room + 4
	}
	f.height = math.Max(bottom, y) + 6
	return f
}

// lossInk keeps the colours of the strip's losses: battery, controller,
// winding, iron and drag, then what is left.
func lossInk(k int) int {
	order := []int{5, 3, 1, 2, 4, 4}
	return order[min(k, len(order)-1)]
}

func (f *stream) draw() template.HTML {
	d := newDrawing(f.width, f.height, "flow", "The ledger as a flow from battery and legs to the road; the table below has the same in numbers.")
	const thick = 10.0
	// bands first, bars and words on top
	from := f.battery.y
	f.ribbon(d, "flow-band", thick, from, f.xWheel, f.motorAtWheel.y, f.motorAtWheel.h)
	from += f.motorAtWheel.h
	for _, b := range f.losses {
		f.ribbon(d, "flow-"+b.ink, thick, from, f.xLoss, b.y, b.h)
		from += b.h
	}
	f.ribbon(d, "flow-leg", thick, f.legs.y, f.xWheel, f.motorAtWheel.y+f.motorAtWheel.h, f.legs.h)
	from = f.motorAtWheel.y
	for _, b := range f.uses {
		f.ribbon(d, "flow-earth", f.xWheel+thick, from, f.xUs, b.y, b.h)
		from += b.h
	}
	d.rect("fill-ink", 0, f.battery.y, thick, f.battery.h)
	d.rect("fill-leg", 0, f.legs.y, thick, math.Max(f.legs.h, 0.6))
	d.rect("fill-ink", f.xWheel, f.motorAtWheel.y, thick, f.motorAtWheel.h+f.legs.h)
	d.text("flow-name", 0, 16, "Out of the cells "+wh(f.battery.account.Wh))
	d.text("flow-name", 0, f.legs.y+f.legs.h+15, "Legs "+wh(f.legs.account.Wh))
	d.text("flow-name end", f.xWheel+thick, 16, "Wheel "+wh((f.motorAtWheel.h+f.legs.h)/f.perWh))
	for _, b := range f.losses {
		d.rect("fill-"+b.ink, f.xLoss, b.y, thick, math.Max(b.h, 0.6))
		d.text("flow-label", f.xLoss+thick+5, b.label, b.account.Name+" "+wh(b.account.Wh))
	}
	for _, b := range f.uses {
		d.rect("fill-earth", f.xUs, b.y, thick, math.Max(b.h, 0.6))
		d.text("flow-label", f.xUs+thick+5, b.label-2, b.account.Name)
		d.text("flow-label quiet", f.xUs+thick+5, b.label+11, wh(b.account.Wh))
	}
	return d.end()
}

// ribbon is a band of constant height between two upright edges.
func (f *stream) ribbon(d *drawing, class string, x1, y1, x2, y2, h float64) {
	if h < 0.1 {
		return
	}
	mid := (x1 + x2) / 2
	d.path(class, fmt.Sprintf("M%s %sC%s %s %s %s %s %sV%sC%s %s %s %s %s %sz",
		px(x1), px(y1), px(mid), px(y1), px(mid), px(y2), px(x2), px(y2),
		px(y2+h), px(mid), px(y2+h), px(mid), px(y1+h), px(x1), px(y1+h)))
}

func wh(v float64) string { return number(v, sensible(v), "Wh") }
