package gears

import (
	"math"
	"slices"
)

// A run is a stretch of seconds in which development stays put: one gear,
// driven. Its mean is far surer than any of its seconds.
type run struct {
	mean    float64 // log of metres a crank turn
	error   float64 // standard error of mean
	seconds float64
}

// Runs shorter than this say little; steps up to this much are noise.
const (
	leastRun  = 4
	leastStep = 0.02
)

// runs cuts a view into runs. Seconds in which the rider does not push are
// left out: a crank that slips mimics a taller gear.
func (v *view) runs() (all []run) {
	noise := v.restless()
	reach := max(leastStep, 3*noise)
	var values []float64
	flush := func() {
		if len(values) >= leastRun {
			inner := values[1 : len(values)-1] // a change blurs the seconds about it
			mean := middle(inner)
			n := float64(len(inner))
			all = append(all, run{mean, math.Hypot(noise/math.Sqrt(n/2), 0.002), n})
		}
		values = values[:0]
	}
	centre := 0.0
	for t, k := range v.kind {
		pushed := v.power[t] == 0 || v.power[t] >= 3
		if k != turning || !pushed {
			flush()
			continue
		}
		x := float64(v.logDev[t])
		if len(values) > 0 && math.Abs(x-centre) > reach {
			flush()
		}
		values = append(values, x)
		centre += (x - centre) / float64(min(len(values), 8))
	}
	flush()
	return all
}

// restless is the standard deviation of a second's log development, from the
// middle half of its changes, which no shift is part of.
func (v *view) restless() float64 {
	var change []float64
	for t := 1; t < len(v.kind); t++ {
		if v.kind[t] == turning && v.kind[t-1] == turning {
			change = append(change, math.Abs(float64(v.logDev[t]-v.logDev[t-1])))
		}
	}
	if len(change) == 0 {
		return 0.02
	}
	return max(1.4826*middle(change)/math.Sqrt2, leastSpread)
}

// middle is the median; values stay as they are. Only what lies about the
// middle is put in order, for a ride asks it of thousands of seconds.
func middle(values []float64) float64 {
	v := slices.Clone(values)
	k := len(v) / 2
	for low, high := 0, len(v)-1; low < high; {
		pivot := v[low+(high-low)/2]
		i, j := low, high
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for pivot < v[j] {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			high = j
		case k >= i:
			low = i
		default:
			low = high
		}
	}
	if len(v)%2 == 1 {
		return v[k]
	}
	return (slices.Max(v[:k]) + v[k]) / 2
}
