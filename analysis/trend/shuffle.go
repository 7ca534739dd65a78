package trend

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/combin"
)

// mostSplits is how many ways of dealing the rides are tried; if there are no
// more than that, all of them are, and the chance is exact.
const mostSplits = 10_000

// shuffle deals the rides anew into two groups of the same sizes and asks how
// often the largest difference among all scores is as large as each one's own
// (Westfall and Young 1993, Resampling-Based Multiple Testing, max-T). The
// differences are put on one footing by their spread over the deals.
func shuffle(scores []*score, rides, before int, o Options) []float64 {
	chances := make([]float64, len(scores))
	if before == 0 || before == rides {
		for k := range chances {
			chances[k] = 1
		}
		return chances
	}
	deals := deal(rides, before, o)
	diffs := make([][]float64, len(scores)) // by score, by deal
	for k, s := range scores {
		diffs[k] = make([]float64, len(deals))
		square := 0.0
		for j, first := range deals {
			diffs[k][j] = math.Abs(s.apart(first))
			square += diffs[k][j] * diffs[k][j]
		}
		if spread := math.Sqrt(square / float64(len(deals))); spread > 0 {
			for j := range diffs[k] {
				diffs[k][j] /= spread
			}
		}
	}
	for j := range deals {
		largest := 0.0
		for k := range scores {
			largest = max(largest, diffs[k][j])
		}
		for k := range scores {
			// Equal deals may differ in the last bits.
			if own := diffs[k][0]; largest >= own*(1-1e-9) {
				chances[k]++
			}
		}
	}
	for k := range chances {
		chances[k] /= float64(len(deals))
	}
	return chances
}

// deal lists who is in the first group: the real deal first, then every other,
// or a random choice of them.
func deal(rides, before int, o Options) [][]bool {
	real := make([]bool, rides)
	for i := range before {
		real[i] = true
	}
	deals := [][]bool{real}
	if logWays := combin.LogGeneralizedBinomial(float64(rides), float64(before)); logWays <= math.Log(mostSplits) {
		all := combin.Combinations(rides, before) // in order: the real deal is the first
		for _, members := range all[1:] {
			first := make([]bool, rides)
			for _, i := range members {
				first[i] = true
			}
			deals = append(deals, first)
		}
		return deals
	}
	rng := rand.New(rand.NewPCG(o.Seed, 3))
	for len(deals) < mostSplits {
		first := make([]bool, rides)
		for k, i := range rng.Perm(rides) {
			first[i] = k < before
		}
		deals = append(deals, first)
	}
	return deals
}

// apart is the difference of the score between both groups, 0 where one says
// nothing.
func (s *score) apart(first []bool) float64 {
	var o, e [2]float64
	for i, f := range first {
		side := 1
		if f {
			side = 0
		}
		o[side] += s.observed[i]
		e[side] += s.expected[i]
	}
	if e[0] <= 0 || e[1] <= 0 {
		return 0
	}
	return s.scale * (o[1]/e[1] - o[0]/e[0])
}
