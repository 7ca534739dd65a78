package road

import "math"

// ascentStep in m is the least rise or fall that counts: smaller ones are an
// altimeter's noise. Common practice.
const ascentStep = 2

// Ascent sums the climbs of the smoothed altitude, each from its foot to its
// top, in m; NaN without altitude. A climb ends where the road falls by
// ascentStep. Summing every rise instead counts an altimeter's wandering as
// hills; counting in steps counts it again on every slope, and loses the last
// metre of each climb.
func (s *Series) Ascent() float64 {
	total, foot, top := 0.0, math.NaN(), math.NaN()
	climbing := false
	for _, a := range s.Altitude {
		switch {
		case math.IsNaN(a):
		case math.IsNaN(foot):
			foot = a
		case climbing && a > top:
			top = a
		case climbing && top-a >= ascentStep:
			total += top - foot
			climbing, foot = false, a
		case !climbing && a < foot:
			foot = a
		case !climbing && a-foot >= ascentStep:
			climbing, top = true, a
		}
	}
	if math.IsNaN(foot) {
		return math.NaN()
	}
	if climbing {
		total += top - foot
	}
	return total
}
