package gears

import "math"

// Teeth and wheels that bikes have.
const (
	leastCog, mostCog     = 9, 52
	leastRing, mostRing   = 20, 62
	leastWheel, mostWheel = 1.2, 2.4 // m
	usualWheel            = 2.10     // m, of 700C and 29 inch wheels, where nothing else is known
)

// A notch is one gear that a ring could have: a cog or a step of a gear hub.
type notch struct {
	offset       float64 // log of development over ring metres
	share        float64 // of gears that have it, before the rides are heard
	cog, hubStep int
}

// commonness tells how common a cog is on cassettes, against the commonest
// (common practice, no source): small cogs follow each other closely, large
// ones come in few sizes.
func commonness(teeth int) float64 {
	switch teeth {
	case 11, 12, 13, 14, 15, 16, 17, 18, 19, 21, 24, 25, 28, 32:
		return 1
	case 20, 22, 23, 27, 30, 34, 36, 42:
		return 0.7
	case 10, 26, 40, 46, 50, 51:
		return 0.4
	case 9, 31, 33, 35, 37, 38, 39, 44, 45, 48, 52:
		return 0.2
	}
	return 0.05
}

func notches(cogs []int, hub []float64) []notch {
	var all []notch
	switch {
	case len(hub) > 0:
		for i, h := range hub {
			all = append(all, notch{offset: math.Log(h), share: 1, hubStep: i + 1})
		}
	case len(cogs) > 0:
		for _, c := range cogs {
			all = append(all, notch{offset: -math.Log(float64(c)), share: 1, cog: c})
		}
	default:
		for c := leastCog; c <= mostCog; c++ {
			all = append(all, notch{offset: -math.Log(float64(c)), share: commonness(c), cog: c})
		}
	}
	sum := 0.0
	for _, n := range all {
		sum += n.share
	}
	for i := range all {
		all[i].share /= sum
	}
	return all
}

// A fit says which notch of which ring each peak is. Teeth are whole numbers:
// the reciprocals of the developments of one ring stand in whole proportions,
// and the more of them there are, the fewer rings can explain them.
type fit struct {
	logRing   []float64 // log of ring metres, smallest ring first
	places    []place   // of each peak
	evidence  float64   // log of the probability of the peaks, whatever the ring metres
	certainty float64   // probability of these places among all that were weighed
}

// A place is a ring and a notch; ring -1 where none fits.
type place struct {
	ring      int
	notch     notch
	certainty float64
}

// A fitter weighs ring metres against peaks.
type fitter struct {
	peaks   []peak
	notches []notch
	low     float64     // log ring metres at index 0
	likely  [][]float64 // by peak and index: density of the peak on one ring
	gaps    []float64   // by number of peaks on the smaller of two rings: its probability
}

const (
	ringStep   = 0.001 // of log ring metres
	peakError  = 0.004 // systematic, of log development
	strayShare = 0.03  // of peaks that are no gear
)

func newFitter(peaks []peak, notches []notch, low, high float64) *fitter {
	f := &fitter{peaks: peaks, notches: notches, low: low, gaps: gapShares(peaks)}
	n := int((high-low)/ringStep) + 1
	for _, p := range peaks {
		row := make([]float64, n)
		for i := range row {
			row[i] = f.density(p, low+float64(i)*ringStep)
		}
		f.likely = append(f.likely, row)
	}
	return f
}

func (f *fitter) density(p peak, logRing float64) float64 {
	s := math.Hypot(p.error, peakError)
	sum := 0.0
	for _, n := range f.notches {
		if z := (p.centre - logRing - n.offset) / s; z*z < 40 {
			sum += n.share * math.Exp(-z*z/2)
		}
	}
	return sum / (s * math.Sqrt(2*math.Pi))
}

// weigh is the probability density of all peaks on rings at the given indices.
// Of two rings either every peak may lie on either, or the small ring ends
// somewhere among the peaks and the large one begins: riders leave overlaps
// unused, and one number says all of it.
func (f *fitter) weigh(at ...int) float64 {
	if len(at) == 1 {
		product := 1.0
		for k := range f.peaks {
			product *= f.on(k, at[0])
		}
		return product
	}
	free := 1.0
	for k := range f.peaks {
		sum := 0.0
		for _, i := range at {
			sum += f.on(k, i)
		}
		free *= sum / float64(len(at))
	}
	if len(at) > 2 {
		return free
	}
	_, split := f.split(at)
	return (free + split) / 2
}

// on is the density of a peak on the ring at an index, stray ones included.
func (f *fitter) on(peak, index int) float64 {
	return (1-strayShare)*f.likely[peak][index] + strayShare*background
}

// split finds the likeliest number of peaks on the smaller of two rings, and
// the density of the peaks over all such numbers. Between rings the gap is
// likely wide.
func (f *fitter) split(at []int) (best int, mean float64) {
	n := len(f.peaks)
	product := 1.0
	for k := range n {
		product *= f.on(k, at[1])
	}
	most := -1.0
	for s := range n + 1 {
		d := product * f.gaps[s]
		mean += d
		if d > most {
			best, most = s, d
		}
		if s < n {
			product *= f.on(s, at[0]) / f.on(s, at[1])
		}
	}
	return best, mean
}

// gapShares is how likely the gap before each peak, and the one after the last,
// is the one between two rings.
func gapShares(peaks []peak) []float64 {
	const ends = 0.05 // a ring that was not used
	n := len(peaks)
	shares := make([]float64, n+1)
	if n < 2 {
		shares[0] = 1
		return shares
	}
	shares[0], shares[n] = ends, ends
	for k := 1; k < n; k++ {
		gap := peaks[k].centre - peaks[k-1].centre
		shares[k] = (1 - 2*ends) * gap / (peaks[n-1].centre - peaks[0].centre)
	}
	return shares
}

// A guess is one weighed set of ring metres.
type guess struct {
	at     []int
	weight float64
}

// worthJudging is the weight of a guess against the best that still matters.
const worthJudging = 1e-4

// fitRings weighs all sets of ring metres that lie the given log distances
// apart, the first ring anywhere on the grid. prior weighs the first ring.
func (f *fitter) fitRings(apart [][]float64, prior func(logRing float64) float64) fit {
	var guesses []guess
	var best guess
	total, count := 0.0, 0
	n := len(f.likely[0])
	for _, steps := range apart {
		for i := range n {
			at := []int{i}
			for _, s := range steps {
				at = append(at, i+int(math.Round(s/ringStep)))
			}
			if at[len(at)-1] >= n {
				break
			}
			count++
			g := guess{at, f.weigh(at...) * prior(f.low+float64(i)*ringStep)}
			total += g.weight
			if g.weight > best.weight {
				best = g
			}
			if g.weight > worthJudging*best.weight {
				guesses = append(guesses, g)
			}
		}
	}
	if !(total > 0) {
		return fit{evidence: math.Inf(-1)}
	}
	out := fit{evidence: math.Log(total / float64(count))}
	for _, i := range best.at {
		out.logRing = append(out.logRing, f.low+float64(i)*ringStep)
	}
	out.places = f.placesOf(best)
	f.judge(&out, guesses, best.weight, total)
	f.sharpen(&out)
	return out
}

// judge sums, over all guesses that matter, how often each peak has the place
// it was given, and how often all have.
func (f *fitter) judge(out *fit, guesses []guess, most, total float64) {
	for _, g := range guesses {
		if g.weight < worthJudging*most {
			continue
		}
		all := true
		for k, p := range f.placesOf(g) {
			same := p.ring == out.places[k].ring && p.notch == out.places[k].notch
			if same {
				out.places[k].certainty += g.weight / total
			}
			all = all && same
		}
		if all {
			out.certainty += g.weight / total
		}
	}
}

// placesOf gives each peak the nearest notch, or none where all are far. Of
// two rings the one on the peak's side of the split goes first.
func (f *fitter) placesOf(g guess) []place {
	places := make([]place, len(f.peaks))
	small := 0
	if len(g.at) == 2 {
		small, _ = f.split(g.at)
	}
	for k := range f.peaks {
		places[k] = f.nearest(k, g.at)
		if len(g.at) == 2 {
			own := 1
			if k < small {
				own = 0
			}
			if p := f.nearest(k, g.at[own:own+1]); p.ring >= 0 {
				p.ring = own
				places[k] = p
			}
		}
	}
	return places
}

func (f *fitter) nearest(k int, at []int) place {
	p := f.peaks[k]
	reach := max(0.010, 2*math.Hypot(p.error, peakError))
	found := place{ring: -1}
	for r, i := range at {
		logRing := f.low + float64(i)*ringStep
		for _, n := range f.notches {
			if d := math.Abs(p.centre - logRing - n.offset); d < reach {
				reach = d
				found.ring, found.notch = r, n
			}
		}
	}
	return found
}

// sharpen sets each ring's metres to what the peaks placed on it say.
func (f *fitter) sharpen(out *fit) {
	for r := range out.logRing {
		sum, weight := 0.0, 0.0
		for k, p := range out.places {
			if p.ring == r {
				w := 1 / (f.peaks[k].error*f.peaks[k].error + peakError*peakError)
				sum += w * (f.peaks[k].centre - p.notch.offset)
				weight += w
			}
		}
		if weight > 0 {
			out.logRing[r] = sum / weight
		}
	}
}
