package trend

import (
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"cogledger/analysis/doubt"
)

// confidence is the share of cases in which an interval is to hold the truth.
const confidence = 0.90

// compare gives a score its values before and after, and their difference, with
// intervals; rides[:before] are one side, the rest the other.
func compare(s *score, before, rides int, o Options) Change {
	// The draws depend on the seed alone, so that one figure does not change
	// because another was added.
	a := resample(s, span(0, before), o, 1)
	b := resample(s, span(before, rides), o, 2)
	diff := make([]float64, len(a.draws))
	for k := range diff {
		diff[k] = b.draws[k] - a.draws[k]
	}
	return Change{
		Key: s.key, Unit: s.unit, Margin: s.margin, Overlap: s.overlap,
		Difference: interval(b.value-a.value, diff, freedom(a, b)),
		Before:     a.figure(),
		After:      b.figure(),
	}
}

// A sample is a score of some rides, and of draws from them.
type sample struct {
	value float64
	rides int // that say something
	draws []float64
}

func resample(s *score, rides []int, o Options, stream uint64) sample {
	rides = s.telling(rides)
	out := sample{value: s.of(rides), rides: len(rides), draws: make([]float64, o.resamples())}
	rng := rand.New(rand.NewPCG(o.Seed, stream))
	for k := range out.draws {
		out.draws[k] = s.of(draw(rides, rng))
	}
	return out
}

func (s sample) figure() doubt.Figure { return interval(s.value, s.draws, s.rides-1) }

// draw takes one ride fewer than there are, with replacement (Rao and Wu 1988,
// J. Am. Stat. Assoc. 83:231): the spread of means of such draws is the
// unbiased one. It returns nil for fewer than two rides, whose spread nobody
// knows.
func draw(rides []int, rng *rand.Rand) []int {
	if len(rides) < 2 {
		return nil
	}
	drawn := make([]int, len(rides)-1)
	for k := range drawn {
		drawn[k] = rides[rng.IntN(len(rides))]
	}
	return drawn
}

// interval takes the quantiles of the draws, further out than for a normal
// distribution by what Student's t with that many degrees of freedom asks
// (Hesterberg 2015, Am. Stat. 69:371).
func interval(value float64, draws []float64, freedom int) doubt.Figure {
	f := doubt.Figure{Value: value, Low: math.NaN(), High: math.NaN()}
	if freedom < 1 || slices.ContainsFunc(draws, math.IsNaN) {
		return f
	}
	draws = slices.Clone(draws)
	slices.Sort(draws)
	tail := expandedTail(freedom)
	f.Low = stat.Quantile(tail, stat.LinInterp, draws, nil)
	f.High = stat.Quantile(1-tail, stat.LinInterp, draws, nil)
	return f
}

func expandedTail(freedom int) float64 {
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(freedom)}
	return distuv.UnitNormal.CDF(t.Quantile((1 - confidence) / 2))
}

// freedom is Welch's count for the difference of two groups, rounded down.
func freedom(a, b sample) int {
	if a.rides < 2 || b.rides < 2 {
		return 0
	}
	va, vb := stat.Variance(a.draws, nil), stat.Variance(b.draws, nil)
	if va+vb == 0 {
		return a.rides + b.rides - 2
	}
	nu := (va + vb) * (va + vb) / (va*va/float64(a.rides-1) + vb*vb/float64(b.rides-1))
	return int(nu + 1e-9)
}
