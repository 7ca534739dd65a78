package gears

import (
	"math"
	"slices"
)

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
	cog, hubStep int
}

func notches(cogs []int, hub []float64) []notch {
	var all []notch
	for i, h := range hub {
		all = append(all, notch{offset: math.Log(h), hubStep: i + 1})
	}
	if len(hub) > 0 {
		return all
	}
	if len(cogs) == 0 {
		for c := leastCog; c <= mostCog; c++ {
			cogs = append(cogs, c)
		}
	}
	for _, c := range cogs {
		all = append(all, notch{offset: -math.Log(float64(c)), cog: c})
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
}

const (
	ringStep   = 0.001 // of log ring metres
	peakError  = 0.004 // systematic, of log development
	strayShare = 0.03  // of peaks that are no gear
)

func newFitter(peaks []peak, notches []notch, low, high float64) *fitter {
	f := &fitter{peaks: peaks, notches: notches, low: low}
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
			sum += math.Exp(-z * z / 2)
		}
	}
	return sum / (s * math.Sqrt(2*math.Pi) * float64(len(f.notches)))
}

// weigh is the probability density of all peaks on rings at the given indices.
func (f *fitter) weigh(at ...int) float64 {
	product := 1.0
	for _, row := range f.likely {
		sum := 0.0
		for _, i := range at {
			sum += row[i]
		}
		product *= (1-strayShare)*sum/float64(len(at)) + strayShare*background
	}
	return product
}

// A guess is one weighed set of ring metres.
type guess struct {
	at     []int
	weight float64
}

// fitRings weighs all sets of ring metres that lie the given log distances
// apart, the first ring anywhere on the grid. prior weighs the first ring.
func (f *fitter) fitRings(apart [][]float64, prior func(logRing float64) float64) fit {
	var guesses []guess
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
			w := f.weigh(at...) * prior(f.low+float64(i)*ringStep)
			total += w
			guesses = append(guesses, guess{at, w})
		}
	}
	if count == 0 || !(total > 0) {
		return fit{evidence: math.Inf(-1)}
	}
	best := slices.MaxFunc(guesses, func(a, b guess) int {
		if a.weight < b.weight {
			return -1
		}
		return 1
	})
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
		if g.weight < 1e-4*most {
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

// placesOf gives each peak the nearest notch, or none where all are far.
func (f *fitter) placesOf(g guess) []place {
	places := make([]place, len(f.peaks))
	for k, p := range f.peaks {
		nearest := max(0.012, 3*math.Hypot(p.error, peakError))
		places[k].ring = -1
		for r, i := range g.at {
			logRing := f.low + float64(i)*ringStep
			for _, n := range f.notches {
				if d := math.Abs(p.centre - logRing - n.offset); d < nearest {
					nearest = d
					places[k].ring, places[k].notch = r, n
				}
			}
		}
	}
	return places
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
