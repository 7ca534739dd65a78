package shifts

import (
	"math"
	"slices"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/ledger"
	"cogledger/analysis/road"
	"cogledger/ingest/ride"
)

// The kinds of habit, stable keys.
const (
	TallStart      = "tall-gear start"
	LateDownShift  = "late down-shift"
	OneGear        = "one-gear riding"
	SpinningOut    = "spinning out"
	FullAssist     = "full assist on steep ground"
	HardBursts     = "hard bursts of battery current"
	ShiftUnderLoad = "shifting under load"
)

// A Habit groups what a rider does again and again. Energy is what the plan
// would have saved while it happened, or for the habits that no gear changes
// what a gentler way would have. One second may belong to several habits, but
// its cost to the first of them alone: costs add up, and those of habits that lug
// are part of the loss to lugging.
type Habit struct {
	Kind          string
	Count         int
	Opportunities int          // how often it could have happened; 0 where that makes no sense
	Cost          doubt.Figure // Wh out of the battery
	RangeKm       float64      // how much farther a full battery would go without it; NaN where unknown
	DelayS        float64      // median seconds from leaving the efficient band to the down-shift; NaN for other kinds
	Delays        []float64    // all of them
	Advice        string       // one sentence in plain words; empty where there is nothing to say
	Measurable    bool         // the log has the channels that tell it
	Carried       bool         // measurable, and seen often enough to carry an advice
	Seconds       []int        // when it began, each time; nil when taken over several rides
	Ends          []int        // and ended
	OverKm        float64      // the riding it was looked for in
	OverWh        float64      // and what that took out of the battery
}

// Rate is how often it happened of the times it could have, 0 to 1; NaN where
// that makes no sense.
func (h Habit) Rate() float64 {
	if h.Opportunities == 0 {
		return nan
	}
	return float64(h.Count) / float64(h.Opportunities)
}

// Habits finds every kind of habit in a ride, in the order of the kinds above,
// those that never happened too. The intervals of their costs are those of the
// moments they lie in, and of the profile's resistances.
func Habits(r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, d *drive.Series, m *drive.Matrix, plan Plan, moments []Moment) []Habit {
	w := weigher{r: r, p: p, inf: inf, rd: rd, d: d, m: m, plan: plan, unit: drive.NewUnit(p)}
	starts := Starts(r, rd)
	habits := []Habit{
		w.tallStarts(starts), w.lateDownShifts(starts), w.oneGear(), w.spinningOut(),
		w.fullAssist(), w.hardBursts(), w.shiftsUnderLoad(),
	}
	km, wh := usage(r, rd, d)
	own := owner{taken: make([]bool, r.Len())}
	_, own.lost = ledger.Lugging(d, m, p)
	for i := range habits {
		h := &habits[i]
		h.OverKm, h.OverWh = km, wh
		h.Cost = w.habitCost(h, moments, &own)
		h.DelayS = median(h.Delays)
	}
	AdviseHabits(p, habits)
	return habits
}

// usage is the distance ridden and the energy out of the battery, where both
// are known.
func usage(r *ride.Ride, rd *road.Series, d *drive.Series) (km, wh float64) {
	for s := 1; s < r.Len(); s++ {
		if !math.IsNaN(d.Terminal[s]) {
			wh += d.Terminal[s] / joulesPerWh
			km += (rd.Distance[s] - rd.Distance[s-1]) / 1000
		}
	}
	return km, wh
}

// median is NaN of nothing.
func median(values []float64) float64 {
	if len(values) == 0 {
		return nan
	}
	sorted := slices.Sorted(slices.Values(values))
	n := len(sorted)
	return (sorted[(n-1)/2] + sorted[n/2]) / 2
}

// MergeHabits takes the habits of several rides on one bike together, kind by
// kind. Their costs rest on the same profile and err together, so bounds add up.
func MergeHabits(p *bike.Profile, rides [][]Habit) []Habit {
	var merged []Habit
	for _, habits := range rides {
		for _, h := range habits {
			i := slices.IndexFunc(merged, func(o Habit) bool { return o.Kind == h.Kind })
			if i < 0 {
				h.Delays = slices.Clone(h.Delays)
				h.Seconds, h.Ends = nil, nil
				merged = append(merged, h)
				continue
			}
			merged[i].add(h)
		}
	}
	AdviseHabits(p, merged)
	return merged
}

func (h *Habit) add(o Habit) {
	h.Count += o.Count
	h.Opportunities += o.Opportunities
	h.Cost = doubt.Figure{
		Value: h.Cost.Value + o.Cost.Value,
		Low:   h.Cost.Low + o.Cost.Low,
		High:  h.Cost.High + o.Cost.High,
		Basis: h.Cost.Basis.Weaker(o.Cost.Basis),
	}
	h.OverKm += o.OverKm
	h.OverWh += o.OverWh
	h.Delays = append(h.Delays, o.Delays...)
	h.DelayS = median(h.Delays)
	h.Measurable = h.Measurable || o.Measurable
}
