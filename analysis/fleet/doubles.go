package fleet

import (
	"cmp"
	"slices"

	"cogledger/analysis"
)

// A Span is when a ride was, and what tells which of two logs of it is richer.
type Span struct {
	Content     string
	Part        int64
	Path        string
	Bike, Rider string
	analysis.Span
}

// A Double is a ride that another log holds too.
type Double struct {
	Span
	Of string // path of the log that is counted instead
}

// Doubles finds rides on one bike at the same time, of which at least one was
// not another ride: a cut upload beside the whole, or two devices. Where the
// two agree in rider and in speed, the richer one is kept. Common practice; a
// bike cannot be ridden twice at once, but a clock may be wrong.
func Doubles(rides []Span) []Double {
	rides = slices.Clone(rides)
	slices.SortFunc(rides, func(a, b Span) int {
		if a.Richer(b.Span) {
			return -1
		}
		if b.Richer(a.Span) {
			return 1
		}
		return cmp.Or(cmp.Compare(a.Path, b.Path), cmp.Compare(a.Part, b.Part))
	})
	kept := make(map[string][]Span) // by bike
	var doubles []Double
	for _, r := range rides {
		i := slices.IndexFunc(kept[r.Bike], func(k Span) bool { return k.same(r) })
		if i < 0 {
			kept[r.Bike] = append(kept[r.Bike], r)
			continue
		}
		doubles = append(doubles, Double{r, kept[r.Bike][i].Path})
	}
	slices.SortFunc(doubles, func(a, b Double) int { return cmp.Or(cmp.Compare(a.Path, b.Path), cmp.Compare(a.Part, b.Part)) })
	return doubles
}

// same reports whether two logs are of one ride on one bike.
func (a Span) same(b Span) bool {
	return a.Bike == b.Bike && a.Content != b.Content && (a.Rider == b.Rider || a.Rider == "" || b.Rider == "") && a.Same(b.Span)
}
