package road

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// TestWindowAgainstOneLine slides a window along a drawn ride with stops, gaps
// and jumps, and holds every line against one of least squares through the same
// points by the textbook's formulas, each deviation taken from the mean.
func TestWindowAgainstOneLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		n := rapid.IntRange(1, 400).Draw(t, "seconds")
		fastest := rapid.Float64Range(0, 25).Draw(t, "fastest")
		distance, altitude := make([]float64, n), make([]float64, n)
		at, height := 1e5*rng.Float64(), 2000*rng.Float64()
		for i := range n {
			if rng.IntN(4) > 0 {
				at += fastest * rng.Float64()
			}
			if rng.IntN(100) == 0 {
				at += 1000
			}
			height += rng.NormFloat64()
			distance[i], altitude[i] = at, height
			if rng.IntN(30) == 0 {
				altitude[i] = math.NaN()
			}
		}
		w := window{distance: distance, altitude: altitude}
		for i := range n {
			if math.IsNaN(altitude[i]) {
				continue
			}
			w.move(i)
			h, g, leverage := w.line(i)
			wantH, wantG, wantLeverage := oneLine(distance, altitude, i)
			switch {
			case math.IsInf(leverage, 1) && math.IsInf(wantLeverage, 1) && math.Abs(h-wantH) < 1e-6:
			case math.Abs(h-wantH) < 1e-6 && math.Abs(g-wantG) < 1e-7 && math.Abs(leverage-wantLeverage) < 1e-7:
			default:
				t.Fatalf("second %d of %d: height %g, grade %g, leverage %g, want %g, %g, %g", i, n, h, g, leverage, wantH, wantG, wantLeverage)
			}
		}
	})
}

func oneLine(distance, altitude []float64, i int) (height, grade, leverage float64) {
	var x, y []float64
	for _, step := range []int{-1, 1} {
		for k := i; k >= 0 && k < len(altitude) && !math.IsNaN(altitude[k]); k += step {
			seconds := math.Abs(float64(k - i))
			if seconds > gradeMost || seconds > gradeSeconds && math.Abs(distance[k]-distance[i]) > gradeReach {
				break
			}
			if k != i || step > 0 {
				x, y = append(x, distance[k]), append(y, altitude[k])
			}
		}
	}
	var meanX, meanY, xx, xy float64
	for k := range x {
		meanX, meanY = meanX+x[k]/float64(len(x)), meanY+y[k]/float64(len(x))
	}
	for k := range x {
		xx += (x[k] - meanX) * (x[k] - meanX)
		xy += (x[k] - meanX) * (y[k] - meanY)
	}
	if xx < 25 {
		return meanY, math.NaN(), math.Inf(1)
	}
	return meanY + xy/xx*(distance[i]-meanX), xy / xx, 1 / math.Sqrt(xx)
}
