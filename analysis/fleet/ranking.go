package fleet

import (
	"math"
	"slices"
)

// A Rule says how much must be known of a bike or a rider before it is ranked
// and judged. The zero value takes DefaultRule.
type Rule struct {
	Rides int64
	Days  int64
	Km    float64
}

// DefaultRule is common practice: fewer than these say more of one trip than of
// the bike.
func DefaultRule() Rule { return Rule{Rides: 5, Days: 3, Km: 15} }

func (r Rule) or(fallback Rule) Rule {
	if r == (Rule{}) {
		return fallback
	}
	return r
}

func (r Rule) enough(t *Tally) bool {
	return t.Loss.N >= r.Rides && t.Days >= r.Days && t.Loss.X >= r.Km
}

// A Range is a number with its 90 % range, NaN where not known.
type Range struct{ Value, Low, High float64 }

// A Line is one bike, rider or group in a ranking.
type Line struct {
	Name  string
	Group string
	Rides int64
	Days  int64
	Km    float64

	LossPerKm    Range   // Wh lost to lugging a kilometre; chance and the profile's doubt together
	Chance       Range   // the same by chance alone, which is what lines are compared by
	BatteryPerKm float64 // Wh/km
	LuggingShare float64 // of the loaded seconds, 0..1
	LegsShare    float64 // of the pedalling seconds with the legs below their band
	Worth        Worth
	Verdict      Verdict
	Rank         int  // from 1, 0 where there is too little data
	Modelled     bool // more than half of the rides have the motor's energy modelled
}

// Worth is what better shifting would be worth in 30 days of riding as now.
type Worth struct {
	Km      float64 // ridden in 30 days
	LossWh  Range   // lost to lugging
	PlanWh  float64 // of it within reach of the rideable plan
	Charges float64 // PlanWh as full batteries
}

const (
	monthDays     = 30
	leastSpanDays = 7 // a shorter log is taken as a week, lest one busy day become a month of them
)

// rank makes the lines of a ranking, dearest first, those with too little data
// last. Doubt is the relative half-width of the loss by the profile.
func rank(tallies []Tally, rule Rule, doubt float64) []Line {
	lines := make([]Line, len(tallies))
	estimates, enough := make([]Estimate, len(tallies)), make([]bool, len(tallies))
	for i := range tallies {
		t := &tallies[i]
		estimates[i], enough[i] = t.Loss.Ratio(), rule.enough(t)
		lines[i] = line(t, doubt)
	}
	for i, v := range judge(estimates, enough) {
		lines[i].Verdict = v
		if enough[i] {
			lines[i].Rank = 1 // numbered below
		}
	}
	slices.SortStableFunc(lines, func(a, b Line) int {
		switch {
		case (a.Rank > 0) != (b.Rank > 0):
			return b.Rank - a.Rank
		case a.LossPerKm.Value != b.LossPerKm.Value && !math.IsNaN(a.LossPerKm.Value) && !math.IsNaN(b.LossPerKm.Value):
			if a.LossPerKm.Value > b.LossPerKm.Value {
				return -1
			}
			return 1
		case math.IsNaN(a.LossPerKm.Value) != math.IsNaN(b.LossPerKm.Value):
			if math.IsNaN(b.LossPerKm.Value) {
				return -1
			}
			return 1
		}
		return 0
	})
	for i := range lines {
		if lines[i].Rank > 0 {
			lines[i].Rank = i + 1
		}
	}
	return lines
}

func line(t *Tally, doubt float64) Line {
	chance := t.Loss.Ratio()
	l := Line{
		Name: t.Key, Group: t.Group, Rides: t.Rides, Days: t.Days, Km: t.Km,
		BatteryPerKm: t.Battery.Ratio().Value,
		LuggingShare: t.LuggingShare(),
		LegsShare:    Share(float64(t.LegsLuggingS), float64(t.PedallingS)),
		Modelled:     2*t.Modelled > t.Rides,
	}
	low, high := chance.Interval()
	l.Chance = Range{chance.Value, max(0, low), high}
	l.LossPerKm = widened(chance, doubt)
	l.Worth = worth(t, l.LossPerKm)
	return l
}

// widened adds the profile's doubt, a fraction of the value, to the range by
// chance. The two have nothing to do with one another and add in quadrature.
func widened(e Estimate, doubt float64) Range {
	low, high := e.Interval()
	r := Range{e.Value, low, high}
	if !math.IsNaN(doubt) && !math.IsNaN(low) {
		half := math.Hypot((high-low)/2, doubt*e.Value)
		r.Low, r.High = e.Value-half, e.Value+half
	}
	r.Low = max(0, r.Low)
	return r
}

func worth(t *Tally, perKm Range) Worth {
	if t.First.IsZero() {
		return Worth{math.NaN(), Range{math.NaN(), math.NaN(), math.NaN()}, math.NaN(), math.NaN()}
	}
	days := max(leastSpanDays, t.Last.Sub(t.First).Hours()/24+1)
	w := Worth{Km: t.Km * monthDays / days, PlanWh: t.PlanWh * monthDays / days}
	w.LossWh = Range{perKm.Value * w.Km, perKm.Low * w.Km, perKm.High * w.Km}
	w.Charges = w.PlanWh / t.CapacityWh
	return w
}
