package trend

import (
	"math"
	"slices"
)

// A score is one figure to compare, as a ratio of sums over rides: observed to
// expected, times scale. Rides whose expectation is zero say nothing.
type score struct {
	key      string
	unit     string
	scale    float64
	margin   float64   // half-width of "no change", in units of the figure
	observed []float64 // one a ride
	expected []float64
	overlap  float64 // how much of the ground the two groups share, 0..1
}

// of is the score of the rides listed, NaN when they say nothing.
func (s *score) of(rides []int) float64 {
	var o, e float64
	for _, i := range rides {
		o += s.observed[i]
		e += s.expected[i]
	}
	if e <= 0 {
		return math.NaN()
	}
	return s.scale * o / e
}

// telling lists those of the rides that say something.
func (s *score) telling(rides []int) []int {
	var some []int
	for _, i := range rides {
		if s.expected[i] > 0 {
			some = append(some, i)
		}
	}
	return some
}

// Keys of the two figures that every comparison has. Habits carry their kind.
const (
	LuggingShare = "lugging share"
	EnergyPerKm  = "energy a kilometre"
)

// Margins within which a difference is too small to matter: common practice.
const (
	shareMargin   = 0.03 // of the loaded time
	energyMargin  = 0.03 // of the energy a kilometre
	chanceMargin  = 0.10 // of the occasions
	per10kmMargin = 0.5  // times in 10 km
)

// scores works out every figure for the rides, split at before: rides[:before]
// against the rest.
func scores(rides []Ride, before int) []*score {
	all := []*score{luggingScore(rides, before), energyScore(rides, before)}
	for _, kind := range habitKinds(rides) {
		all = append(all, habitScore(rides, kind))
	}
	return all
}

func luggingScore(rides []Ride, before int) *score {
	s := standardised(rides, before,
		func(c Cell) float64 { return c.Lugging },
		func(c Cell) float64 { return c.Loaded })
	s.key, s.unit, s.margin = LuggingShare, "share", shareMargin
	return s
}

func energyScore(rides []Ride, before int) *score {
	s := standardised(rides, before,
		func(c Cell) float64 { return c.Wh },
		func(c Cell) float64 { return c.BestWh })
	var wh, metres float64
	for _, r := range rides {
		wh += r.MeteredWh
		metres += r.MeteredMetres
	}
	s.key, s.unit, s.scale = EnergyPerKm, "Wh/km", per(wh, metres)*1000
	s.margin = energyMargin * s.scale
	return s
}

// standardised compares what happened in the cells with what the rate of all
// rides together in the same condition leads one to expect. Its scale is that
// rate over all conditions.
func standardised(rides []Ride, before int, happened, exposed func(Cell) float64) *score {
	var events, exposure [Conditions]float64
	var side [2][Conditions]float64
	for i, r := range rides {
		for c, cell := range r.Cells {
			events[c] += happened(cell)
			exposure[c] += exposed(cell)
			if i < before {
				side[0][c] += exposed(cell)
			} else {
				side[1][c] += exposed(cell)
			}
		}
	}
	total := ratio(events[:], exposure[:])
	s := &score{scale: total, overlap: overlap(side[0][:], side[1][:])}
	s.observed, s.expected = make([]float64, len(rides)), make([]float64, len(rides))
	for i, r := range rides {
		for c, cell := range r.Cells {
			s.observed[i] += happened(cell)
			switch {
			case total == 0: // it never happened: any exposure tells so
				s.expected[i] += exposed(cell)
			case exposure[c] > 0:
				s.expected[i] += exposed(cell) * events[c] / exposure[c]
			}
		}
	}
	return s
}

// habitScore compares counts with occasions, or with distance where no ride
// has occasions for the habit.
func habitScore(rides []Ride, kind string) *score {
	s := &score{key: kind, unit: "share", scale: 1, margin: chanceMargin, overlap: 1}
	s.observed, s.expected = make([]float64, len(rides)), make([]float64, len(rides))
	far := make([]float64, len(rides)) // in 10 km
	var chances float64
	for i, r := range rides {
		for _, h := range r.Habits {
			if h.Kind == kind {
				s.observed[i] += h.Count
				s.expected[i] += h.Chance
				far[i] += h.Km / 10
				chances += h.Chance
			}
		}
	}
	if chances == 0 {
		s.unit, s.margin, s.expected = "in 10 km", per10kmMargin, far
	}
	return s
}

func habitKinds(rides []Ride) []string {
	var kinds []string
	for _, r := range rides {
		for _, h := range r.Habits {
			if !slices.Contains(kinds, h.Kind) {
				kinds = append(kinds, h.Kind)
			}
		}
	}
	slices.Sort(kinds)
	return kinds
}

func ratio(events, exposure []float64) float64 {
	var o, e float64
	for c := range events {
		o += events[c]
		e += exposure[c]
	}
	return per(o, e)
}

// per is a/b, NaN where b is not above zero.
func per(a, b float64) float64 {
	if !(b > 0) {
		return math.NaN()
	}
	return a / b
}

// overlap is the share of ground that two sides have in common: the sum over
// conditions of the smaller of both shares.
func overlap(a, b []float64) float64 {
	var sumA, sumB, common float64
	for c := range a {
		sumA += a[c]
		sumB += b[c]
	}
	if sumA <= 0 || sumB <= 0 {
		return 0
	}
	for c := range a {
		common += min(a[c]/sumA, b[c]/sumB)
	}
	return common
}
