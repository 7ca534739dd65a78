package gears

import (
	"math"
	"slices"
)

// A peak is one component of the mixture of developments.
type peak struct {
	centre  float64 // log of metres a crank turn
	error   float64 // standard error of centre
	share   float64 // of the runs
	runs    float64 // number of runs, as far as they belong to it
	seconds float64 // of those runs
}

const (
	leastMisfit = 0.003 // relative; by which runs of one gear differ besides their own noise
	mostMisfit  = 0.015
	background  = 1.0 // density of a run that belongs to no gear, over log development
)

// Runs in a gear last longer than those that belong to none.
const (
	staying = 25.0 // s
	passing = 5.0
)

// lasting is the density of a length with the given mean.
func lasting(seconds, mean float64) float64 { return math.Exp(-seconds/mean) / mean }

// A mixture is peaks and a flat background for runs that belong to none.
type mixture struct {
	peaks  []peak
	misfit float64 // relative; by which runs of one gear differ besides their own noise
	flat   float64 // share of the background
	like   float64 // log-likelihood
}

// akaike is what a peak must add to the log-likelihood: Akaike's information
// criterion, one for each of its numbers, centre and share.
const akaike = 2.0

// fitMixture finds the peaks that the runs support: as many as the evidence
// asks for, each with runs enough to be no accident.
func fitMixture(runs []run) mixture {
	m := mixture{flat: 0.2, misfit: 0.005}
	at := crests(runs)
	for _, centre := range at {
		m.peaks = append(m.peaks, peak{centre: centre, share: 0.8 / float64(len(at))})
	}
	m.settle(runs)
	for len(m.peaks) > 0 {
		without := m.drop(m.weakest())
		without.settle(runs)
		if m.supported() && m.like-without.like > akaike {
			break
		}
		m = without
	}
	slices.SortFunc(m.peaks, func(a, b peak) int {
		if a.centre < b.centre {
			return -1
		}
		return 1
	})
	return m
}

// crests lists the local maxima of the runs' density, smoothed by one per cent.
func crests(runs []run) []float64 {
	const step = 0.002
	if len(runs) == 0 {
		return nil
	}
	low, high := runs[0].mean, runs[0].mean
	for _, r := range runs {
		low, high = min(low, r.mean), max(high, r.mean)
	}
	low -= 0.05
	density := make([]float64, int((high-low+0.1)/step))
	for _, r := range runs {
		s := math.Hypot(r.error, 0.01)
		first := max(0, int((r.mean-4*s-low)/step))
		for k := first; k < len(density) && low+float64(k)*step < r.mean+4*s; k++ {
			z := (low + float64(k)*step - r.mean) / s
			density[k] += r.seconds * math.Exp(-z*z/2) / s
		}
	}
	var at []float64
	for k := 1; k+1 < len(density); k++ {
		if density[k] > density[k-1] && density[k] >= density[k+1] {
			at = append(at, low+float64(k)*step)
		}
	}
	return at
}

// settle runs expectation and maximisation until the likelihood stands still.
func (m *mixture) settle(runs []run) {
	m.like = math.Inf(-1)
	part := make([]float64, len(m.peaks))
	for range 100 {
		next := make([]struct{ n, weight, sum, seconds float64 }, len(m.peaks))
		like, flat, off, member := 0.0, 0.0, 0.0, 0.0
		for _, r := range runs {
			none := m.flat * background * lasting(r.seconds, passing)
			total, geared := none, lasting(r.seconds, staying)
			s2 := r.error*r.error + m.misfit*m.misfit
			for k, p := range m.peaks {
				d := r.mean - p.centre
				part[k] = p.share * geared * math.Exp(-d*d/(2*s2)) / math.Sqrt(2*math.Pi*s2)
				total += part[k]
			}
			like += math.Log(total)
			flat += none / total
			for k := range next {
				q := part[k] / total
				next[k].n += q
				next[k].weight += q / s2
				next[k].sum += q / s2 * r.mean
				next[k].seconds += q * r.seconds
				d := r.mean - m.peaks[k].centre
				off += q * (d*d - r.error*r.error)
				member += q
			}
		}
		done := like-m.like < 1e-6*math.Abs(like)
		m.like, m.flat = like, max(flat, 0.5)/float64(len(runs))
		if member > 0 {
			m.misfit = min(max(math.Sqrt(max(off/member, 0)), leastMisfit), mostMisfit)
		}
		for k, x := range next {
			p := &m.peaks[k]
			p.share, p.runs, p.seconds = x.n/float64(len(runs)), x.n, x.seconds
			if x.weight > 0 {
				p.centre, p.error = x.sum/x.weight, math.Sqrt(1/x.weight)
			}
		}
		if done {
			return
		}
	}
}

// weakest is the peak with the least seconds.
func (m *mixture) weakest() int {
	at := 0
	for k, p := range m.peaks {
		if p.seconds < m.peaks[at].seconds {
			at = k
		}
	}
	return at
}

func (m *mixture) drop(at int) mixture {
	return mixture{misfit: m.misfit, peaks: slices.Delete(slices.Clone(m.peaks), at, at+1), flat: m.flat + m.peaks[at].share}
}

// supported tells whether the weakest peak rests on enough riding.
func (m *mixture) supported() bool {
	p := m.peaks[m.weakest()]
	return p.seconds >= 10 || p.seconds >= 5 && p.runs >= 1.8
}

// stepped tells whether the runs stand on steps at all, by the Bayesian
// information criterion: lines against any development alike. Runs that follow
// one another at one ratio are one choice of the rider's and count once.
func (m *mixture) stepped(runs []run) bool {
	choices, gain := 0.0, 0.0
	low, high := math.Inf(1), math.Inf(-1)
	for _, r := range runs {
		low, high = min(low, r.mean), max(high, r.mean)
	}
	width := math.Log(max(high-low, 0.5))
	for i, r := range runs {
		if i > 0 && math.Abs(r.mean-runs[i-1].mean) < onLine {
			continue
		}
		choices++
		s2 := r.error*r.error + m.misfit*m.misfit
		density := m.flat * math.Exp(-width)
		for _, p := range m.peaks {
			d := r.mean - p.centre
			density += p.share * math.Exp(-d*d/(2*s2)) / math.Sqrt(2*math.Pi*s2)
		}
		gain += math.Log(density) + width
	}
	return gain > float64(len(m.peaks))*math.Log(choices)
}

// steadyRun is the length in s from which on a run counts as steady, and
// onLine how near to a line in log development it lies on it.
const (
	steadyRun = 8
	onLine    = 0.015
)

func (m *mixture) near(x float64) bool {
	for _, p := range m.peaks {
		if math.Abs(x-p.centre) <= onLine {
			return true
		}
	}
	return false
}

// explained is the share of the steady seconds that lie on a line, 0 where
// there are none, and their number.
func (m *mixture) explained(runs []run) (share, steady float64) {
	on := 0.0
	for _, r := range runs {
		if r.seconds < steadyRun {
			continue
		}
		steady += r.seconds
		if m.near(r.mean) {
			on += r.seconds
		}
	}
	if steady == 0 {
		return 0, 0
	}
	return on / steady, steady
}
