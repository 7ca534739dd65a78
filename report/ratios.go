package report

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"strings"

	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
)

//go:embed page/ratios.gohtml
var ratiosTemplate string

type ratiosPage struct {
	page
	Sentence, Caption string
	Still             template.HTML
	Table             *table
	Untold            []string
}

// Ratios writes a page that shows which gears were heard in rides: the seconds
// of steady pedalling over development, the gears found in them, and what could
// not be told.
func Ratios(w io.Writer, l *gears.Learnt, o Options) error {
	title := o.Title
	if title == "" {
		title = "The gears of a bike"
	}
	p := ratiosPage{page: shell(heading(title), "")}
	p.Kicker = "Gears learnt from rides"
	if !o.Now.IsZero() {
		p.Written = o.Now.Format("2 January 2006, 15:04 MST")
	}
	p.Facts = ratioFacts(l)
	p.Sentence = ratioWords(l)
	p.Caption = "Seconds of steady pedalling by development, the metres that one turn of the cranks carries the bike; each step to the right is the same step in proportion. Every gear heaps up where its development lies. The lines are the gears found, with their teeth and how sure these are."
	p.Still = drawRatios(l)
	p.Table = unlessEmpty(ratioTable(l))
	p.Untold = untold(l)
	t, err := template.New("page").Parse(pageTemplate)
	if err == nil {
		t, err = t.New("ratios").Parse(ratiosTemplate)
	}
	if err != nil {
		return fmt.Errorf("report: template of the gears: %w", err)
	}
	return t.Execute(w, p)
}

func ratioFacts(l *gears.Learnt) []string {
	var list []string
	teeth := func(what string, counts []int) {
		if len(counts) > 0 {
			list = append(list, what+" "+strings.Trim(fmt.Sprint(counts), "[]"))
		}
	}
	teeth("front", l.Chainrings)
	teeth("rear", l.Cogs)
	if len(l.HubGears) > 0 {
		list = append(list, fmt.Sprintf("gear hub of %d steps", len(l.HubGears)))
	}
	if l.Circumference > 0 {
		list = append(list, "wheel "+number(l.Circumference, 3, "m")+" around")
	}
	return append(list, spanWords(int(l.Steady))+" of steady pedalling")
}

func ratioWords(l *gears.Learnt) string {
	if len(l.Lines) == 0 {
		return "No gears were found: the steady seconds do not gather at fixed developments."
	}
	gearsFound := fmt.Sprintf("%d gears were", len(l.Lines))
	if len(l.Lines) == 1 {
		gearsFound = "One gear was"
	}
	return fmt.Sprintf("%s found. %s of the steady pedalling lies within 1.5\u00a0%% of one.", gearsFound, percent(l.Explained))
}

// gearName is "?" for a line that fits no teeth.
func gearName(x gears.Line) string {
	if x.Ring <= 0 || x.Cog <= 0 {
		return "?"
	}
	return bike.Gear{Front: x.Ring, Rear: x.Cog, HubStep: x.HubStep}.String()
}

func ratioTable(l *gears.Learnt) table {
	t := table{Caption: "The gears found, lowest first", Columns: columns("Gear", "#Development, m", "#between, m", "#and, m", "#Steady pedalling", "#Sure of the teeth")}
	for _, x := range l.Lines {
		t.Rows = append(t.Rows, tableRow{Cells: texts(gearName(x), cellNumber(x.Development, 3), cellNumber(x.Low, 3), cellNumber(x.High, 3),
			span(int(math.Round(x.Seconds))), percent(x.Certainty))})
	}
	return t
}

// untold lists what the rides leave open.
func untold(l *gears.Learnt) []string {
	var list []string
	if l.AssumedRings && len(l.RingMetres) > 0 {
		var products []string
		for _, m := range l.RingMetres {
			products = append(products, number(m, 2, "m"))
		}
		list = append(list, "The teeth at the front are assumed. Speed and cadence tell only teeth times circumference: "+strings.Join(products, ", ")+". Count them, or give the tyre.")
	}
	if l.AssumedCircumference {
		list = append(list, "The wheel’s circumference is assumed, since no tyre was given.")
	}
	var unsure, nameless []string
	for _, x := range l.Lines {
		switch {
		case x.Ring <= 0 || x.Cog <= 0:
			nameless = append(nameless, number(x.Development, 2, "m"))
		case x.Certainty < 0.9:
			unsure = append(unsure, gearName(x))
		}
	}
	if len(nameless) > 0 {
		list = append(list, fmt.Sprintf("No teeth fit at %s; it may be soft pedalling, or another bike.", strings.Join(nameless, ", ")))
	}
	if len(unsure) > 0 {
		list = append(list, fmt.Sprintf("Less than 90\u00a0%% sure: %s. The next tooth would fit nearly as well; more steady riding there settles it.", strings.Join(unsure, ", ")))
	}
	for _, n := range l.Notes {
		list = append(list, upperFirst(n.String()))
	}
	return append(list, "Gears that were never ridden steadily cannot be heard, and are missing here.")
}

// A logScale puts equal proportions at equal distances.
type logScale struct{ low, high float64 }

func (s logScale) at(v float64) float64 {
	return math.Log(v/s.low) / math.Log(s.high/s.low)
}

// drawRatios draws the histogram with the gears found as labelled lines.
func drawRatios(l *gears.Learnt) template.HTML {
	const width, height, left, bottom, top, row = 720.0, 360.0, 44.0, 36.0, 62.0, 14.0
	const label = "Seconds of steady pedalling by development, with the gears found; the table has the numbers."
	d := newDrawing(width, height, "motor-map", label)
	h := l.Histogram
	if len(h.Seconds) == 0 || !(h.Low > 0) || !(h.Growth > 1) {
		return d.end()
	}
	edge := func(i int) float64 { return h.Low * math.Pow(h.Growth, float64(i)) }
	across := logScale{h.Low, edge(len(h.Seconds))}
	_, most := extent(h.Seconds, 0, len(h.Seconds))
	up := niceScale(0, most, 5)
	x := func(v float64) float64 { return left + across.at(v)*(width-left-12) }
	y := func(v float64) float64 { return height - bottom - up.at(v)*(height-bottom-top) }
	for _, m := range up.marks() {
		d.line("rule", left, y(m), width-12, y(m))
		d.text("tick end", left-5, y(m)+3.5, grouped(m, markDigits(up.step)))
	}
	for _, m := range developmentMarks(across) {
		d.text("tick mid", x(m), height-bottom+15, grouped(m, markDigits(round(m, 2))))
	}
	for i, s := range h.Seconds {
		if s > 0 {
			d.rect("fill-band", x(edge(i)), y(s), math.Max(0.8, x(edge(i+1))-x(edge(i))), y(0)-y(s))
		}
	}
	var ends [3]float64 // where the labels of each row end
	for _, g := range l.Lines {
		if !(g.Development >= across.low && g.Development <= across.high) {
			continue
		}
		at, words := x(g.Development), gearName(g)
		if words != "?" {
			words += " " + percent(g.Certainty)
		}
		half := 3.1 * float64(len([]rune(words)))
		line := 0
		for k := range ends {
			if at-half > ends[k]+4 {
				line = k
				break
			}
			if ends[k] < ends[line] {
				line = k
			}
		}
		ends[line] = at + half
		base := row * float64(line+1)
		d.line("line-lug", at, base+3, at, y(heap(h, g.Development))-3)
		d.text("tick mid", math.Max(half, math.Min(width-half, at)), base, words)
	}
	d.text("tick end", width-12, height-4, "development, m (proportional)")
	d.text("tick", 0, top-6, "s")
	return d.end()
}

// heap is the highest bin within 1 % of a development.
func heap(h gears.Histogram, development float64) float64 {
	most := 0.0
	for i, s := range h.Seconds {
		mid := h.Low * math.Pow(h.Growth, float64(i)+0.5)
		if math.Abs(mid/development-1) <= 0.01 {
			most = math.Max(most, s)
		}
	}
	return most
}

// developmentMarks are the halves of a metre, far enough apart to be read.
func developmentMarks(s logScale) []float64 {
	const step = 0.5
	var marks []float64
	for m := math.Ceil(s.low/step) * step; m <= s.high; m += step {
		if n := len(marks); n == 0 || s.at(m)-s.at(marks[n-1]) >= 0.045 {
			marks = append(marks, m)
		}
	}
	return marks
}
