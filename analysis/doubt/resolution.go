package doubt

import (
	"math"
	"slices"
)

// Resolution is the step in which a sensor counts: the smallest distance
// between two of its readings that is not a rounding error of the log. It is
// zero for a column that never changes, or has no readings.
func Resolution(column []float64) float64 {
	seen := make([]float64, 0, resolutionReadings)
	for _, v := range column {
		if !math.IsNaN(v) {
			if seen = append(seen, v); len(seen) == resolutionReadings {
				break
			}
		}
	}
	slices.Sort(seen)
	step, widest := math.Inf(1), 0.0
	for i := 1; i < len(seen); i++ {
		if d := seen[i] - seen[i-1]; d > 0 {
			widest = max(widest, math.Abs(seen[i]))
			if d > 1e-6*widest {
				step = min(step, d)
			}
		}
	}
	if math.IsInf(step, 1) {
		return 0
	}
	return step
}

// resolutionReadings are enough for a sensor to show its step.
const resolutionReadings = 2000

// Rounding is the standard deviation of the error that counting in steps
// makes: step/sqrt(12), the rectangular distribution of the GUM, JCGM 100,
// 4.3.7.
func Rounding(step float64) float64 { return step / math.Sqrt(12) }
