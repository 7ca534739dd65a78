package gears

import (
	"fmt"
	"math"
	"slices"

	"cogledger/analysis/bike"
)

// A drivetrain as it might be, in place of the one typed in.
type might struct {
	rings, cogs []int   // teeth
	scale       float64 // log of wheel over the typed one
	doubt       float64 // log of how much rarer such an error is than none
}

// Errors of profiles, as log odds against none, and what they must explain.
const (
	oneCog     = 4.0 // a cog typed in wrong
	nextCog    = 2.0 // each after that: who mistakes one mistakes others
	oneTooth   = 0.5 // for every tooth of a cog
	oneRing    = 5.0
	ringTooth  = 0.4
	newWheel   = 4.0
	both       = 8.0   // cogs besides another wheel or ring
	farWheel   = 20.0  // for each of log circumference
	mostCogs   = 6     // cogs that are changed before another cassette is the better word
	bears      = 5.0   // log likelihood that a change must gain beyond its doubt
	strayOdd   = 3.0   // log likelihood that each run of a line can lose at most, being no gear
	strayAll   = 40.0  // and all runs of it
	passedOver = 1.5   // log of how unlikely a cog is not ridden between two that are
	tyreReach  = 0.025 // of log circumference, to which a tyre that is right may be wrong
)

// mend looks for the least change of the profile that the peaks ask for, and
// tells whether there is one that they ask for clearly.
func mend(to *Mismatch, peaks []peak, p *bike.Profile) bool {
	if len(p.Drivetrain.HubGears) > 0 || len(peaks) < 2 {
		return false
	}
	typed := might{rings: p.Drivetrain.Chainrings, cogs: slices.Sorted(slices.Values(p.Drivetrain.Cogs))}
	logC := math.Log(p.Circumference())
	before := typed.fits(peaks, logC)
	if -before < bears+min(oneCog, oneRing, newWheel) {
		return false // nothing could gain enough
	}
	best, most := typed, before
	for _, start := range typed.others() {
		if have := start.fits(peaks, logC); have > most {
			best, most = start, have
		}
	}
	for _, start := range []might{typed, best} {
		if c, have := start.withCogs(peaks, logC); have > most {
			best, most = c, have
		}
	}
	if most-before < bears {
		return false
	}
	to.Found = true
	to.say(best, typed, p)
	return true
}

// others are the profiles of another ring or another wheel.
func (c might) others() (all []might) {
	for k, ring := range c.rings {
		for teeth := max(ring-16, leastRing); teeth <= min(ring+16, mostRing); teeth++ {
			if len(c.rings) > 1 && teeth != ring && !slices.Contains(c.rings, teeth) {
				o := might{rings: slices.Clone(c.rings), cogs: c.cogs, doubt: oneRing + ringTooth*math.Abs(float64(teeth-ring))}
				o.rings[k] = teeth
				all = append(all, o)
			}
		}
	}
	for scale := -0.5; scale <= 0.5; scale += 0.005 {
		if math.Abs(scale) > bike.TyreSpread {
			all = append(all, might{rings: c.rings, cogs: c.cogs, scale: scale, doubt: newWheel + farWheel*math.Abs(scale)})
		}
	}
	return all
}

// withCogs changes one cog after the other as long as it pays, from several
// wheels within the spread: where half of the cogs are wrong, a wheel between
// right and wrong looks best until most are mended.
func (c might) withCogs(peaks []peak, logC float64) (might, float64) {
	best, most := c, c.fits(peaks, logC)
	for shift := -tyreReach; shift <= tyreReach; shift += tyreReach / 4 {
		o := c.withCogsAt(peaks, logC, shift)
		if have := o.fits(peaks, logC); have > most {
			best, most = o, have
		}
	}
	return best, most
}

func (c might) withCogsAt(peaks []peak, logC, shift float64) might {
	most := c.fitsAt(peaks, logC, shift)
	for changed := range mostCogs {
		best, doubt := c, oneCog
		if changed > 0 {
			doubt = nextCog
		} else if c.doubt > 0 {
			doubt += both
		}
		for k, cog := range c.cogs {
			for teeth := max(cog-5, leastCog); teeth <= min(cog+5, mostCog); teeth++ {
				if slices.Contains(c.cogs, teeth) {
					continue
				}
				o := c
				o.cogs = slices.Clone(c.cogs)
				o.cogs[k] = teeth
				o.doubt += doubt + oneTooth*math.Abs(float64(teeth-cog))
				if have := o.fitsAt(peaks, logC, shift); have > most {
					best, most = o, have
				}
			}
		}
		if slices.Equal(best.cogs, c.cogs) {
			break
		}
		c = best
	}
	return c
}

// fits is the log likelihood of the peaks on a drivetrain, less its doubt, at
// the wheel within the tyre table's spread that suits best.
func (c might) fits(peaks []peak, logC float64) float64 {
	most := math.Inf(-1)
	for shift := -tyreReach; shift <= tyreReach; shift += tyreReach / 10 {
		most = max(most, c.fitsAt(peaks, logC, shift))
	}
	return most
}

// fitsAt is the same on a wheel of a given log distance from the typed one. A cog
// passed over between two that were ridden is unlikely.
func (c might) fitsAt(peaks []peak, logC, shift float64) float64 {
	z := shift / (tyreReach / 2)
	sum := -z*z/2 - c.doubt
	ridden := make([]bool, len(c.cogs))
	ring, cog := make([]float64, len(c.rings)), make([]float64, len(c.cogs))
	for k, teeth := range c.rings {
		ring[k] = math.Log(float64(teeth))
	}
	for k, teeth := range c.cogs {
		cog[k] = math.Log(float64(teeth))
	}
	for i := range peaks {
		p := &peaks[i]
		x, least := p.centre-logC-c.scale-shift, math.Inf(1)
		near := 2.5 * math.Hypot(p.error, peakError)
		for _, r := range ring {
			for k, c := range cog {
				d := math.Abs(x - r + c)
				least = min(least, d)
				ridden[k] = ridden[k] || d < near
			}
		}
		sum -= p.off(least)
	}
	first, last := slices.Index(ridden, true), len(ridden)-1
	for last >= 0 && !ridden[last] {
		last--
	}
	for k := max(first, 0); k <= last; k++ {
		if !ridden[k] {
			sum -= passedOver
		}
	}
	return sum
}

// off is by how much a peak's log likelihood falls for its distance from the
// nearest line. Peaks of few runs say less.
func (p *peak) off(distance float64) float64 {
	z := distance / math.Hypot(p.error, peakError)
	return min(z*z/2, min(strayOdd*p.runs, strayAll))
}

// say puts the change into words.
func (m *Mismatch) say(best, typed might, p *bike.Profile) {
	var fits []string
	if best.scale != 0 {
		m.Circumference = p.Circumference() * math.Exp(best.scale)
		text := fmt.Sprintf("a wheel of %.0f mm would fit", 1000*m.Circumference)
		if len(typed.rings) == 1 {
			m.Chainrings = []int{int(math.Round(float64(typed.rings[0]) * math.Exp(best.scale)))}
			text += fmt.Sprintf(", or a chainring of %d teeth", m.Chainrings[0])
		}
		fits = append(fits, text)
	}
	if !slices.Equal(best.rings, typed.rings) {
		m.Chainrings = best.rings
		fits = append(fits, fmt.Sprintf("chainrings of %v teeth would fit", best.rings))
	}
	if !slices.Equal(best.cogs, typed.cogs) {
		m.Cogs = slices.Sorted(slices.Values(best.cogs))
		var lacks []int
		for _, cog := range m.Cogs {
			if !slices.Contains(typed.cogs, cog) {
				lacks = append(lacks, cog)
			}
		}
		fits = append(fits, fmt.Sprintf("cogs of %v teeth would fit; the profile lacks %v", m.Cogs, lacks))
	}
	for i, text := range fits {
		if i > 0 {
			m.Cure += "; with it, "
		}
		m.Cure += text
	}
	m.Sentence = "the ratios ridden contradict the teeth or the wheel of the profile"
	if m.Share >= contradicts {
		m.Sentence = fmt.Sprintf("%.0f of %.0f seconds of steady riding fit no gear of the profile", m.Share*m.Seconds, m.Seconds)
	}
}
