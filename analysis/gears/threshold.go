package gears

import "math"

// leastNamed is the probability below which no gear is named, however certain
// the rest of the ride is.
const leastNamed = 0.7

// sober returns the probability that the reliability curve of rides with a
// known gear puts in place of the chain's own: three quarters of the log odds.
// What a chain cannot know, such as noise that wanders for a minute, leaves it
// too sure.
func sober(p float64) float64 {
	if p <= 0 || p >= 1 {
		return p
	}
	root := math.Sqrt(math.Sqrt((1 - p) / p))
	return 1 / (1 + root*root*root)
}

// threshold is the lowest probability from which on the named seconds are
// together expected to be right in the given share. counts tells which seconds
// are to be counted.
func threshold(probability []float64, right float64, counts func(t int) bool) float64 {
	const steps = 1000
	var seconds, sum [steps + 1]float64
	for t, p := range probability {
		if counts(t) {
			k := int(p * steps)
			seconds[k]++
			sum[k] += p
		}
	}
	n, hits, lowest := 0.0, 0.0, 1.0
	for k := steps; k >= int(leastNamed*steps); k-- {
		n += seconds[k]
		hits += sum[k]
		if n > 0 && hits >= right*n {
			lowest = float64(k) / steps
		}
	}
	return lowest
}
