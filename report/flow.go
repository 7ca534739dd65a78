package report

import (
	"fmt"
	"html/template"
	"math"
	"slices"

	"cogledger/analysis/ledger"
)

// flow draws the books as a stream from battery and legs to the road. The
// width is 720 for screens and paper, 400 for phones. It is empty when the
// books hold nothing to draw.
func flow(books ledger.Books, width float64) template.HTML {
	f := newStream(books, width)
	if f == nil {
		return ""
	}
	return f.draw()
}

// A bar is one account at its place.
type bar struct {
	name, ink string
	wh        float64
	y, h      float64 // of the bar
	label     float64 // y of its label
}

// A stream is the layout: from the top the losses, which leave upwards, then
// the battery's stream to the wheel, then what else comes in, from below.
type stream struct {
	width, height       float64
	perWh               float64
	battery             bar   // height of all that leaves the cells
	delivered, wheel    bar   // the battery's part that goes to the wheel, and the wheel
	losses, ins, uses   []bar // ins: legs, and what hill or speed gave back
	xLoss, xWheel, xUse float64
}

const (
	barWidth  = 10.0
	flowTop   = 26.0
	flowTall  = 260.0
	leastRoom = 17.0
)

func newStream(books ledger.Books, width float64) *stream {
	f := &stream{width: width, xLoss: 0.30 * width, xWheel: 0.58 * width, xUse: 0.75 * width}
	if width < 600 {
		f.xLoss, f.xWheel, f.xUse = 0.24*width, 0.50*width, 0.64*width
	}
	lost := 0.0
	for k, a := range books.Battery {
		switch {
		case k == 0:
			f.battery = bar{name: a.Name, wh: a.Wh}
		case a.Name == ledger.Delivered:
			f.delivered = bar{name: a.Name, wh: math.Max(0, a.Wh)}
		case a.Wh > 0:
			f.losses = append(f.losses, bar{name: a.Name, wh: a.Wh, ink: lossInk(a.Name)})
			lost += a.Wh
		}
	}
	entered := 0.0
	for k, a := range books.Wheel {
		switch {
		case k == 0:
			f.wheel.wh = math.Max(0, a.Wh)
		case k == 1:
			f.ins = append(f.ins, bar{name: a.Name, wh: math.Max(0, a.Wh), ink: "leg"})
			entered += math.Max(0, a.Wh)
		case a.Wh < 0:
			f.ins = append(f.ins, bar{name: gaveBack(a.Name), wh: -a.Wh, ink: "earth"})
			entered -= a.Wh
		case a.Wh > 0:
			f.uses = append(f.uses, bar{name: a.Name, wh: a.Wh, ink: "earth"})
		}
	}
	f.dropTraces()
	total := math.Max(lost+f.delivered.wh, f.wheel.wh) + entered
	if !(f.battery.wh > 0) || !finite(total) || total <= 0 || len(f.uses) == 0 {
		return nil
	}
	f.perWh = flowTall / total
	f.place(lost)
	return f
}

// dropTraces leaves out bars too thin to be seen; the table has them.
func (f *stream) dropTraces() {
	least := 0.001 * f.battery.wh
	for _, side := range []*[]bar{&f.losses, &f.ins, &f.uses} {
		*side = slices.DeleteFunc(*side, func(b bar) bool { return b.wh < least })
	}
}

// gaveBack names an account of the wheel's way out that came out negative:
// over the whole ride it gave instead of taking.
func gaveBack(account string) string {
	switch account {
	case ledger.Climbing:
		return "height given back"
	case ledger.Speed:
		return "speed given back"
	default:
		return brief(account) + ", as a gain"
	}
}

// lossInk keeps the colours of the strip's losses.
func lossInk(account string) string {
	switch account {
	case ledger.Copper:
		return "loss-1"
	case ledger.Drag:
		return "loss-2"
	case ledger.Controller:
		return "loss-3"
	case ledger.Heat:
		return "loss-5"
	default:
		return "loss-4"
	}
}

// place finds the heights. Small bars get room for their words.
func (f *stream) place(lost float64) {
	y := flowTop
	for k := range f.losses {
		y = f.losses[k].settle(y, f.perWh, leastRoom)
	}
	f.delivered.y = math.Max(y, flowTop+lost*f.perWh) + 28
	f.delivered.h = f.delivered.wh * f.perWh
	f.battery.y, f.battery.h = f.delivered.y-lost*f.perWh, (lost+f.delivered.wh)*f.perWh
	f.wheel.y, f.wheel.h = f.delivered.y, f.wheel.wh*f.perWh
	y = f.delivered.y + math.Max(f.delivered.h, f.wheel.h) + 24
	for k := range f.ins {
		f.ins[k].h = f.ins[k].wh * f.perWh
		f.ins[k].y, f.ins[k].label = y, y+f.ins[k].h+15
		y += f.ins[k].h + 30
		f.wheel.h += f.ins[k].h
	}
	f.height = y
	room := 0.0
	for _, b := range f.uses {
		room += math.Max(b.wh*f.perWh, 2*leastRoom) + 3
	}
	top := flowTop
	if f.width < 600 {
		top = f.delivered.y - 12 // below the words of the losses, which reach this far right
	}
	y = math.Max(top, f.wheel.y+(f.wheel.h-room)/2)
	for k := range f.uses {
		y = f.uses[k].settle(y, f.perWh, 2*leastRoom)
	}
	f.height = math.Max(f.height, y) + 4
}

// settle puts a bar at y with at least the given room, and returns where the
// next one starts.
func (b *bar) settle(y, perWh, least float64) float64 {
	b.h = b.wh * perWh
	room := math.Max(b.h, least)
	b.y, b.label = y+(room-b.h)/2, y+room/2+4.5
	return y + room + 3
}

func (f *stream) draw() template.HTML {
	d := newDrawing(f.width, f.height, "flow", "The ledger as a flow from battery and legs to the road; the table below has the same in numbers.")
	from := f.battery.y
	for _, b := range f.losses {
		ribbon(d, "flow-"+b.ink, barWidth, from, b.h, f.xLoss, b.y, b.h)
		from += b.h
	}
	into := f.wheel.y + (f.wheel.h - sumHeights(f.ins))
	ribbon(d, "flow-band", barWidth, f.delivered.y, f.delivered.h, f.xWheel, f.wheel.y, into-f.wheel.y)
	for _, b := range f.ins {
		ribbon(d, "flow-"+b.ink, barWidth, b.y, b.h, f.xWheel, into, b.h)
		into += b.h
	}
	from = f.wheel.y
	for _, b := range f.uses {
		ribbon(d, "flow-"+b.ink, f.xWheel+barWidth, from, b.h, f.xUse, b.y, b.h)
		from += b.h
	}
	d.rect("fill-ink", 0, f.battery.y, barWidth, f.battery.h)
	d.rect("fill-ink", f.xWheel, f.wheel.y, barWidth, f.wheel.h)
	d.text("flow-name", 0, 14, upperFirst(f.battery.name)+" "+wh(f.battery.wh))
	d.text("flow-name end", f.xWheel+barWidth, f.wheel.y-8, "At the wheel "+wh(f.wheel.h/f.perWh))
	for _, b := range f.losses {
		d.rect("fill-"+b.ink, f.xLoss, b.y, barWidth, math.Max(b.h, 0.6))
		d.text("flow-label", f.xLoss+barWidth+5, b.label, b.name+" "+wh(b.wh))
	}
	for _, b := range f.ins {
		d.rect("fill-"+b.ink, 0, b.y, barWidth, math.Max(b.h, 0.6))
		d.text("flow-name", 0, b.label, upperFirst(b.name)+" "+wh(b.wh))
	}
	for _, b := range f.uses {
		d.rect("fill-"+b.ink, f.xUse, b.y, barWidth, math.Max(b.h, 0.6))
		d.text("flow-label", f.xUse+barWidth+5, b.label-7, brief(b.name))
		d.text("flow-label quiet", f.xUse+barWidth+5, b.label+7.5, wh(b.wh))
	}
	return d.end()
}

func sumHeights(bars []bar) float64 {
	total := 0.0
	for _, b := range bars {
		total += b.h
	}
	return total
}

// brief shortens the one account whose name is too long for a label; the table
// has it whole.
func brief(account string) string {
	if account == ledger.Unexplained {
		return "not explained"
	}
	return account
}

// ribbon is a band between two upright edges of heights h1 and h2.
func ribbon(d *drawing, class string, x1, y1, h1, x2, y2, h2 float64) {
	if math.Max(h1, h2) < 0.1 {
		return
	}
	mid := (x1 + x2) / 2
	d.path(class, fmt.Sprintf("M%s %sC%s %s %s %s %s %sV%sC%s %s %s %s %s %sz",
		px(x1), px(y1), px(mid), px(y1), px(mid), px(y2), px(x2), px(y2),
		px(y2+h2), px(mid), px(y2+h2), px(mid), px(y1+h1), px(x1), px(y1+h1)))
}

func wh(v float64) string { return number(v, sensible(v), "Wh") }
