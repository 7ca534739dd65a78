package gears

import (
	"fmt"
	"math"
	"slices"

	"cogledger/ingest/ride"
)

// fitTeeth finds the lines and gives them teeth as far as what is known
// allows.
func (l *Learnt) fitTeeth(runs []run, known Known) {
	m := fitMixture(runs)
	l.Explained, _ = m.explained(runs)
	l.Steps = m.stepped(runs)
	if len(m.peaks) == 0 {
		return
	}
	low, high := ringRange(known)
	f := newFitter(m.peaks, notches(known.Cogs, nil), low, high)
	best := f.fitRings(distances(known.Chainrings), known.prior)
	if len(known.Chainrings) == 0 {
		const secondRing = 0.3 // of bikes
		two := f.fitRings(anyDistance(), known.prior)
		if two.evidence+math.Log(secondRing/(1-secondRing)) > best.evidence && two.usesBoth() {
			best = two
		}
	}
	l.take(m.peaks, best)
	l.nameRings(best, known)
	l.nameCogs(known)
}

// ringRange is the range of log ring metres of the smallest ring up to the
// largest.
func ringRange(known Known) (low, high float64) {
	wheelLow, wheelHigh := leastWheel, mostWheel
	if known.Circumference > 0 {
		wheelLow, wheelHigh = known.Circumference*0.96, known.Circumference*1.04
	}
	ringLow, ringHigh := leastRing, mostRing
	if len(known.Chainrings) > 0 {
		ringLow, ringHigh = slices.Min(known.Chainrings), slices.Max(known.Chainrings)
	}
	return math.Log(float64(ringLow) * wheelLow), math.Log(float64(ringHigh) * wheelHigh)
}

// prior weighs the metres of the smallest ring: wheels near the known one, or
// near the commonest, and no ring at all lengths alike.
func (k Known) prior(logRing float64) float64 {
	if k.Circumference == 0 || len(k.Chainrings) == 0 {
		return 1
	}
	const wheel = 0.015 // relative; what is typed in differs from what rolls
	z := (logRing - math.Log(float64(slices.Min(k.Chainrings))*k.Circumference)) / wheel
	return math.Exp(-z * z / 2)
}

// distances are those of the known rings from the smallest; of one ring where
// none is known.
func distances(rings []int) [][]float64 {
	if len(rings) < 2 {
		return [][]float64{nil}
	}
	sorted := slices.Clone(rings)
	slices.Sort(sorted)
	var apart []float64
	for _, r := range sorted[1:] {
		apart = append(apart, math.Log(float64(r)/float64(sorted[0])))
	}
	return [][]float64{apart}
}

// anyDistance lists the distances that two rings have (common practice: the
// larger has about 1.3 to 1.65 times the teeth of the smaller).
func anyDistance() [][]float64 {
	var all [][]float64
	for d := math.Log(1.28); d < math.Log(1.66); d += 0.004 {
		all = append(all, []float64{d})
	}
	return all
}

// usesBoth tells whether each ring has at least two peaks.
func (f *fit) usesBoth() bool {
	used := make([]int, len(f.logRing))
	for _, p := range f.places {
		if p.ring >= 0 {
			used[p.ring]++
		}
	}
	return slices.Min(used) >= 2
}

func (l *Learnt) take(peaks []peak, f fit) {
	const ninety = 1.6449
	l.Certainty = f.certainty
	for k, p := range peaks {
		e := ninety * math.Hypot(p.error, peakError/2)
		line := Line{
			Development: math.Exp(p.centre), Low: math.Exp(p.centre - e), High: math.Exp(p.centre + e),
			Seconds: p.seconds,
		}
		if len(f.places) > 0 && f.places[k].ring >= 0 {
			at := f.places[k]
			line.Ring, line.Cog, line.HubStep, line.Certainty = at.ring+1, at.notch.cog, at.notch.hubStep, at.certainty
		}
		l.Lines = append(l.Lines, line)
	}
	for _, r := range f.logRing {
		l.RingMetres = append(l.RingMetres, math.Exp(r))
	}
}

// nameRings turns the numbers of the rings, which take left in the lines, into
// teeth: the known ones, those that the known wheel gives, or those that the
// commonest wheel would give.
func (l *Learnt) nameRings(f fit, known Known) {
	wheel := known.Circumference
	if wheel == 0 {
		wheel = usualWheel
	}
	if len(known.Chainrings) > 0 {
		l.Chainrings = slices.Clone(known.Chainrings)
		slices.Sort(l.Chainrings)
	} else {
		l.Chainrings = nearestRings(l.RingMetres, wheel)
		l.AssumedRings = true
	}
	if len(l.RingMetres) > 0 {
		sum := 0.0
		for r, metres := range l.RingMetres {
			sum += math.Log(metres / float64(l.Chainrings[r]))
		}
		l.Circumference = math.Exp(sum / float64(len(l.RingMetres)))
	}
	l.AssumedCircumference = l.AssumedRings && known.Circumference == 0
	for i := range l.Lines {
		if r := l.Lines[i].Ring; r > 0 {
			l.Lines[i].Ring = l.Chainrings[r-1]
		}
	}
	l.noteRings(known)
}

// nearestRings finds whole teeth in the proportion of the ring metres, on a
// wheel near the given one.
func nearestRings(metres []float64, wheel float64) []int {
	var best []int
	least := math.Inf(1)
	for first := leastRing; first <= mostRing; first++ {
		rings := []int{first}
		c := metres[0] / float64(first)
		off := math.Log(c/wheel) / 0.02
		cost := off * off
		for _, m := range metres[1:] {
			teeth := int(math.Round(m / c))
			rings = append(rings, teeth)
			off := math.Log(m/c/float64(teeth)) / 0.004
			cost += off * off
		}
		if cost < least {
			best, least = rings, cost
		}
	}
	return best
}

func (l *Learnt) noteRings(known Known) {
	if !l.AssumedRings {
		return
	}
	text := "only ring teeth times circumference can be told: "
	for r, m := range l.RingMetres {
		if r > 0 {
			text += " and "
		}
		text += fmt.Sprintf("%.1f m", m)
	}
	n := ride.Note{Text: text, Cure: "count the teeth of one chainring, or measure the wheel, and learn again with it"}
	if known.Circumference > 0 {
		n.Text += fmt.Sprintf("; with the wheel given that makes about %v teeth", l.Chainrings)
		n.Cure = "count the teeth of one chainring to be sure"
	} else {
		n.Text += fmt.Sprintf("; %v teeth on %.3f m are assumed", l.Chainrings, l.Circumference)
	}
	l.Notes = append(l.Notes, n)
}

// leastCertain is the certainty from which on a cog found is listed.
const leastCertain = 0.5

// nameCogs lists the cogs found, or those known.
func (l *Learnt) nameCogs(known Known) {
	if len(known.Cogs) > 0 {
		l.Cogs = slices.Clone(known.Cogs)
		slices.Sort(l.Cogs)
		return
	}
	for _, line := range l.Lines {
		if line.Cog > 0 && line.Certainty >= leastCertain && !slices.Contains(l.Cogs, line.Cog) {
			l.Cogs = append(l.Cogs, line.Cog)
		}
	}
	slices.Sort(l.Cogs)
}

// fitHub lays the known steps of a gear hub over the runs.
func (l *Learnt) fitHub(runs []run, known Known) {
	m := fitMixture(runs)
	if len(m.peaks) == 0 {
		return
	}
	f := newFitter(m.peaks, notches(nil, known.HubGears), math.Log(0.8), math.Log(12))
	fitted := f.fitRings([][]float64{nil}, func(float64) float64 { return 1 })
	l.take(m.peaks, fitted)
	steps := mixture{}
	for _, h := range known.HubGears {
		steps.peaks = append(steps.peaks, peak{centre: fitted.logRing[0] + math.Log(h)})
	}
	l.Explained, _ = steps.explained(runs)
	l.Steps = m.stepped(runs)
	l.nameHub(known)
}

// nameHub gives ring, sprocket and wheel as far as they are known.
func (l *Learnt) nameHub(known Known) {
	l.Chainrings, l.Cogs = known.Chainrings, known.Cogs
	var ring, cog int
	if len(known.Chainrings) == 1 && len(known.Cogs) == 1 {
		ring, cog = known.Chainrings[0], known.Cogs[0]
		l.Circumference = l.RingMetres[0] * float64(cog) / float64(ring)
	} else {
		l.AssumedRings = true
		l.Notes = append(l.Notes, ride.Note{
			Text: fmt.Sprintf("of ring, sprocket and wheel only one number can be told: %.3f m a crank turn where the hub's ratio is 1", l.RingMetres[0]),
			Cure: "count the teeth of chainring and sprocket",
		})
	}
	for i := range l.Lines {
		l.Lines[i].Ring, l.Lines[i].Cog = ring, cog
	}
}
