package fleet

import (
	"math"
	"time"

	"gonum.org/v1/gonum/stat/distuv"
)

// A TrendPoint is the fleet in one week or month.
type TrendPoint struct {
	From      time.Time
	Rides     int64
	Km        float64
	LossPerKm Range // by chance alone
}

// A Trend is the loss a kilometre over time.
type Trend struct {
	Points []TrendPoint
	Slope  Range // Wh/km in 30 days, by a straight line weighted by certainty; NaN with fewer than four points
}

// Moves reports whether the slope's range leaves zero out.
func (t Trend) Moves() bool { return t.Slope.Low > 0 || t.Slope.High < 0 }

// trend draws a straight line through the points, each weighted by one over its
// variance. The range allows for points that scatter more than their own
// variance explains.
func trend(spans []Tally) Trend {
	t := Trend{Slope: Range{math.NaN(), math.NaN(), math.NaN()}}
	var x, y, w []float64
	for i := range spans {
		s := &spans[i]
		if s.First.IsZero() {
			continue
		}
		e := s.Loss.Ratio()
		low, high := e.Interval()
		t.Points = append(t.Points, TrendPoint{s.First, s.Rides, s.Km, Range{e.Value, max(0, low), high}})
		if e.SE > 0 {
			x = append(x, s.First.Sub(spans[0].First).Hours()/24/monthDays)
			y = append(y, e.Value)
			w = append(w, 1/(e.SE*e.SE))
		}
	}
	if len(x) >= 4 {
		t.Slope = slope(x, y, w)
	}
	return t
}

// slope of the weighted least-squares line through at least three points, with
// its 90 % range.
func slope(x, y, w []float64) Range {
	var sw, sx, sy float64
	for i := range x {
		sw += w[i]
		sx += w[i] * x[i]
		sy += w[i] * y[i]
	}
	mx, my := sx/sw, sy/sw
	var sxx, sxy float64
	for i := range x {
		sxx += w[i] * (x[i] - mx) * (x[i] - mx)
		sxy += w[i] * (x[i] - mx) * (y[i] - my)
	}
	b := sxy / sxx
	var left float64
	for i := range x {
		d := y[i] - my - b*(x[i]-mx)
		left += w[i] * d * d
	}
	freedom := float64(len(x) - 2)
	se := math.Sqrt(max(1, left/freedom) / sxx)
	half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.Quantile(0.95) * se
	return Range{b, b - half, b + half}
}
