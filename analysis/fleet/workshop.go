package fleet

import (
	"math"
	"slices"
	"sort"
)

// leastResistances is the number of rides whose resistance must be known
// before a battery is judged.
const leastResistances = 3

// meterTolerance is how well a bike's volts over its amperes are known, 90 %
// half-width as a fraction: more rides do not better it. It takes in the 1.3 %
// by which the ratio comes out high on simulated fleets. Verdicts leave it out:
// they compare bikes with bikes. Volts within 1 % and amperes within 2 %, as
// package bike has it: common practice for a controller's meters.
const meterTolerance = 0.0224

// A BatteryLine is the health hint of one bike's battery. It carries neither
// rides nor kilometres, so that a private report's rankings cannot be undone by
// comparing.
type BatteryLine struct {
	Bike    string
	Ratio   Range // resistance over the profile's, by chance and the meters' tolerance
	OfFleet float64
	Verdict Verdict
}

// batteries compares the learnt resistance of each bike's battery with the
// fleet's, highest first. Resistance over the profile's is compared, so that
// packs of different size may stand side by side.
func batteries(bikes []Tally) []BatteryLine {
	var lines []BatteryLine
	var estimates []Estimate
	var enough []bool
	for i := range bikes {
		e := bikes[i].Resistance.Mean()
		if e.N == 0 {
			continue
		}
		lines = append(lines, BatteryLine{Bike: bikes[i].Key, Ratio: widened(e, meterTolerance)})
		estimates = append(estimates, e)
		enough = append(enough, e.N >= leastResistances)
	}
	verdicts := judge(estimates, enough)
	typical := medianOf(estimates, enough)
	for i := range lines {
		lines[i].Verdict = verdicts[i]
		lines[i].OfFleet = Share(lines[i].Ratio.Value, typical)
	}
	slices.SortStableFunc(lines, func(a, b BatteryLine) int { return descending(a.Ratio.Value, b.Ratio.Value) })
	return lines
}

func medianOf(estimates []Estimate, counted []bool) float64 {
	var values []float64
	for i, e := range estimates {
		if counted[i] {
			values = append(values, e.Value)
		}
	}
	return median(values)
}

// A HeatLine is one bike whose winding runs hot, by the thermal model.
type HeatLine struct {
	Bike      string
	PeakC     float64
	LimitC    float64
	OverLimit int64 // seconds
}

// hottest lists the bikes by time over the winding's limit, then by peak.
func hottest(bikes []Tally) []HeatLine {
	var lines []HeatLine
	for _, t := range bikes {
		if !math.IsNaN(t.WindingPeakC) {
			lines = append(lines, HeatLine{t.Key, t.WindingPeakC, t.WindingLimitC, t.OverLimitS})
		}
	}
	sort.SliceStable(lines, func(a, b int) bool {
		if lines[a].OverLimit != lines[b].OverLimit {
			return lines[a].OverLimit > lines[b].OverLimit
		}
		return lines[a].PeakC > lines[b].PeakC
	})
	return lines
}

// descending orders numbers from the greatest, NaN last.
func descending(a, b float64) int {
	switch {
	case a == b || math.IsNaN(a) && math.IsNaN(b):
		return 0
	case math.IsNaN(b) || a > b:
		return -1
	}
	return 1
}
