package fleet

import (
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

const (
	falseShare  = 0.05   // of those found that may be false, Benjamini and Hochberg
	leastPeers  = 5      // fewer cannot be compared
	madToSigma  = 1.4826 // of a normal distribution
	worthAsking = 1.3    // times the median: less is no matter for a workshop or a talk, however sure
)

// A Verdict tells how one among peers compares.
type Verdict uint8

const (
	TooLittle Verdict = iota // not enough rides, or too few peers to compare with
	Typical
	StandsOut // above its peers by more than chance and their own spread explain
)

func (v Verdict) String() string {
	return [...]string{"too little data", "typical", "stands out"}[v]
}

// peers is what one is compared with.
type peers struct {
	median  float64
	spread2 float64 // variance between peers beyond chance
	count   int
}

// peersOf takes the median and the robust spread of estimates.
func peersOf(estimates []Estimate) peers {
	var values, chance2 []float64
	for _, e := range estimates {
		values = append(values, e.Value)
		chance2 = append(chance2, e.SE*e.SE)
	}
	p := peers{median: median(values), count: len(values)}
	away := make([]float64, len(values))
	for i, v := range values {
		away[i] = math.Abs(v - p.median)
	}
	sigma := madToSigma * median(away)
	p.spread2 = max(0, sigma*sigma-median(chance2))
	return p
}

// pValue is the probability that a peer lies as far above the median. The
// degrees of freedom are those of chance alone, since the spread between peers
// is known from many: Welch and Satterthwaite.
func (p peers) pValue(e Estimate) float64 {
	chance2 := e.SE * e.SE
	total2 := chance2 + p.spread2
	if e.N < 2 || !(total2 > 0) {
		return 1
	}
	t := (e.Value - p.median) / math.Sqrt(total2)
	freedom := 1e6
	if chance2 > 0 {
		freedom = min(freedom, float64(e.N-1)*(total2/chance2)*(total2/chance2))
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.Survival(t)
}

// judge compares each estimate with its peers. Those without enough data
// neither get a verdict nor serve as peers.
func judge(estimates []Estimate, enough []bool) []Verdict {
	verdicts := make([]Verdict, len(estimates))
	var counted []Estimate
	var index []int
	for i, e := range estimates {
		if enough[i] && !math.IsNaN(e.Value) && !math.IsNaN(e.SE) {
			counted = append(counted, e)
			index = append(index, i)
		}
	}
	if len(counted) < leastPeers {
		return verdicts
	}
	p := peersOf(counted)
	values := make([]float64, len(counted))
	for k, e := range counted {
		values[k] = p.pValue(e)
	}
	for k, found := range discoveries(values) {
		verdicts[index[k]] = Typical
		if found && counted[k].Value >= worthAsking*p.median {
			verdicts[index[k]] = StandsOut
		}
	}
	return verdicts
}

// discoveries marks the probabilities that the procedure of Benjamini and
// Hochberg rejects at falseShare.
func discoveries(values []float64) []bool {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return values[order[a]] < values[order[b]] })
	found := make([]bool, len(values))
	for k := len(order) - 1; k >= 0; k-- {
		if values[order[k]] <= falseShare*float64(k+1)/float64(len(order)) {
			for _, i := range order[:k+1] {
				found[i] = true
			}
			break
		}
	}
	return found
}

// median of values, NaN without any. The slice is left as it is.
func median(values []float64) float64 {
	if len(values) == 0 {
		return math.NaN()
	}
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	m := len(sorted) / 2
	if len(sorted)%2 == 1 {
		return sorted[m]
	}
	return (sorted[m-1] + sorted[m]) / 2
}
