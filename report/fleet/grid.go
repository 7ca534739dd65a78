package fleet

import (
	"html/template"
	"math"
	"unicode/utf8"

	"cogledger/report/digits"
)

// firstRows is how many rows a grid shows at once, and without the script.
const firstRows = 25

// A grid is a table that can be sorted and filtered.
type grid struct {
	ID, Caption string
	Heads       []head
	Groups      []string // to choose from; empty where there is nothing to choose
	Verdicts    bool     // rows can stand out
	Rows        []gridRow
	JSON        template.JS
	top         float64 // right end of the drawn ranges
	mark        float64 // drawn across the ranges: what is typical
}

// A head is a column.
type head struct {
	Name  string
	Kind  kind
	Digit int // decimals
}

// A kind is how a column's cells are shown and compared.
type kind uint8

const (
	text   kind = iota
	number      // right-aligned
	spread      // a number with its range, drawn
)

// A gridRow is one row: for each column a string, a number or a range.
type gridRow struct {
	Cells  []any
	Out    bool // stands out
	Little bool // too little data
}

// A ranged cell is a number with its 90 % range.
type ranged struct{ Value, Low, High float64 }

// Shown lists the rows that stand in the page itself.
func (g *grid) Shown() []gridRow { return g.Rows[:min(len(g.Rows), firstRows)] }

// More is how many rows only the script shows.
func (g *grid) More() int { return max(0, len(g.Rows)-firstRows) }

// Right reports whether a column is right-aligned.
func (h head) Right() bool { return h.Kind != text }

// Spread reports whether a column's cells are drawn.
func (h head) Spread() bool { return h.Kind == spread }

// Text is a cell in words.
func (g *grid) Text(column int, cell any) string {
	digits := g.Heads[column].Digit
	switch v := cell.(type) {
	case string:
		return v
	case float64:
		return shown(v, digits)
	case ranged:
		return v.text(digits)
	}
	panic("fleet: a cell that a grid does not hold")
}

// shortText is the length up to which a text stays on one line.
const shortText = 24

// Short reports whether a cell's text stays on one line.
func (g *grid) Short(cell any) bool {
	s, is := cell.(string)
	return is && utf8.RuneCountInString(s) <= shortText
}

// Bar is a range drawn.
func (g *grid) Bar(cell any) template.HTML {
	r, is := cell.(ranged)
	if !is {
		return ""
	}
	return drawRange(r, g.top, g.mark)
}

// data is what the script gets: numbers that are not known are null.
func (g *grid) data() any {
	type column struct {
		Kind  kind `json:"k"`
		Digit int  `json:"d"`
	}
	var columns []column
	for _, h := range g.Heads {
		columns = append(columns, column{h.Kind, h.Digit})
	}
	rows := make([][]any, len(g.Rows))
	for i, r := range g.Rows {
		flags := 0
		if r.Out {
			flags |= 1
		}
		if r.Little {
			flags |= 2
		}
		row := []any{flags}
		for c, cell := range r.Cells {
			switch v := cell.(type) {
			case float64:
				row = append(row, known(v, g.Heads[c].Digit+1))
			case ranged:
				d := g.Heads[c].Digit + 1
				row = append(row, []any{known(v.Value, d), known(v.Low, d), known(v.High, d)})
			default:
				row = append(row, v)
			}
		}
		rows[i] = row
	}
	group := -1
	for i, h := range g.Heads {
		if h.Name == "Group" {
			group = i
		}
	}
	return struct {
		Columns []column `json:"columns"`
		Rows    [][]any  `json:"rows"`
		Group   int      `json:"group"`
		Top     any      `json:"top"`
		Mark    any      `json:"mark"`
		Page    int      `json:"page"`
	}{columns, rows, group, known(g.top, 4), known(g.mark, 4), firstRows}
}

// known is a number for the script, rounded; nil where there is none.
func known(v float64, digits int) any {
	if !finite(v) {
		return nil
	}
	scale := math.Pow(10, float64(digits))
	return math.Round(v*scale) / scale
}

// scale finds the right end of the drawn ranges: the greatest value that is
// known well, so that one wild range does not flatten all others.
func (g *grid) scale() {
	top := 0.0
	for _, row := range g.Rows {
		for _, cell := range row.Cells {
			if r, is := cell.(ranged); is && finite(r.Value) {
				top = max(top, r.Value)
				if finite(r.High) && !row.Little {
					top = max(top, min(r.High, 2*r.Value))
				}
			}
		}
	}
	g.top = top
}

func (r ranged) text(digits int) string {
	if !finite(r.Value) {
		return "–"
	}
	if !finite(r.Low) || !finite(r.High) {
		return shown(r.Value, digits)
	}
	return shown(r.Value, digits) + " (" + shown(r.Low, digits) + " to " + shown(r.High, digits) + ")"
}

// shown prints a number, a dash where it is not known.
func shown(v float64, decimals int) string {
	if !finite(v) {
		return "–"
	}
	return digits.Grouped(v, decimals)
}
