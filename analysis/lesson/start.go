package lesson

import (
	"math"
	"slices"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/shifts"
)

// A Start is the gear to stand in before pulling away.
type Start struct {
	Gear    int // index into bike.Profile.Gears()
	Easiest bool
	Taller  int // starts in a clearly taller gear, as shifts counts them
	Of      int
}

// start takes the gear nearest to what the plan pulls away in: the mean over
// the loaded seconds of a start, the middle one of all starts.
func start(set *analysis.Set) *Start {
	i := slices.IndexFunc(set.Habits, func(h shifts.Habit) bool { return h.Kind == shifts.TallStart })
	if i < 0 || !set.Habits[i].Carried || set.Habits[i].Count == 0 {
		return nil
	}
	all := set.Bike.Gears()
	var planned []float64 // logarithms of ratios
	for _, res := range set.Rides {
		for _, x := range shifts.Starts(res.Ride, res.Road) {
			if v := meanRatio(res, all, x); !math.IsNaN(v) {
				planned = append(planned, v)
			}
		}
	}
	if len(planned) == 0 {
		return nil
	}
	slices.Sort(planned)
	s := &Start{Taller: set.Habits[i].Count, Of: set.Habits[i].Opportunities}
	s.Gear = nearest(all, planned[len(planned)/2])
	s.Easiest = !slices.ContainsFunc(all, func(g bike.Gear) bool { return g.Ratio < all[s.Gear].Ratio })
	return s
}

// meanRatio is the mean logarithm of the planned ratios while the motor is
// loaded, NaN where nothing is planned.
func meanRatio(res *analysis.Result, all []bike.Gear, x shifts.Start) float64 {
	sum, n := 0.0, 0.0
	for s := x.From; s < x.To; s++ {
		if g := res.Plan.Gear[s]; g >= 0 && res.Drive.Class[s].Loaded() {
			sum += math.Log(all[g].Ratio)
			n++
		}
	}
	return sum / n
}

func nearest(all []bike.Gear, logRatio float64) int {
	best := 0
	for k, g := range all {
		if math.Abs(math.Log(g.Ratio)-logRatio) < math.Abs(math.Log(all[best].Ratio)-logRatio) {
			best = k
		}
	}
	return best
}
