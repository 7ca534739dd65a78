package store

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"cogledger/analysis/fleet"
)

// A By is what rides are summed by, as SQL on the rides table.
type By string

// The keys of tallies. A week begins on Monday; the epoch's first day was a
// Thursday. The tallies of groups and of the whole fleet are added up from
// those of ByBike.
const (
	ByBike  By = "bike"
	ByRider By = "rider"
	ByMonth By = "month"
	ByWeek  By = "CAST((start/86400 + 3)/7 AS TEXT)"
)

// Span is what spans of time are told apart by.
func (q Question) Span() By {
	if q.Monthly {
		return ByMonth
	}
	return ByWeek
}

// A Part is the tally of some rides, but for what a Census counts.
type Part struct {
	fleet.Tally
	capacity fleet.Moments // of the batteries; the tally holds their mean
}

// PartQuery sums the rides by a key, by bike those of each group apart. Its
// rows come in no order, which spares a database sorting the rides, and are
// read by PartScanner.
func PartQuery(by By, rides Counted) string {
	group, where, keys := "COALESCE(MAX(team), '')", "", string(by)
	switch by {
	case ByBike:
		group, keys = "team", "bike, team"
	case ByMonth, ByWeek:
		where = " WHERE start IS NOT NULL"
	}
	query := fmt.Sprintf("SELECT %s, %s", by, group)
	for _, a := range aggregates() {
		query += ", " + a.expr
	}
	return query + " FROM " + string(rides) + " AS r" + where + " GROUP BY " + keys
}

// PartScanner makes what reads the rows of PartQuery.
func PartScanner() func(scan func(...any) error) (Part, error) {
	all := aggregates()
	into := make([]any, 2+len(all))
	return func(scan func(...any) error) (Part, error) {
		var p Part
		into[0], into[1] = &p.Key, &p.Group
		for i, a := range all {
			into[2+i] = Into(a.at(&p))
		}
		return p, scan(into...)
	}
}

// Tallies are the answers that the tallies of a summary are made from.
type Tallies struct {
	Bikes         []Part // by bike and group
	Riders, Spans []Part
	Census        *Census
}

// Finish fills in the tallies.
func (t *Tallies) Finish(sums *fleet.Sums) {
	all := aggregates()
	fold := func(key func(*Part) string) []Part {
		at := make(map[string]int)
		var folded []Part
		for i := range t.Bikes {
			k := key(&t.Bikes[i])
			n, met := at[k]
			if !met {
				n, at[k] = len(folded), len(folded)
				folded = append(folded, none(k))
			}
			folded[n].add(&t.Bikes[i], all)
		}
		return folded
	}
	fleetWide := fold(func(*Part) string { return "" })
	if len(fleetWide) == 0 {
		fleetWide = []Part{none("")}
	}
	slices.SortFunc(sums.Versions, fleet.VersionTally.InOrder)
	sums.All = finished(fleetWide, t.Census.ofAll, byKey)[0]
	sums.Bikes = finished(fold(func(p *Part) string { return p.Key }), t.Census.bikes.of, byKey)
	sums.Groups = finished(fold(func(p *Part) string { return p.Group }), t.Census.groups.of, byKey)
	sums.Riders = finished(t.Riders, t.Census.riders.of, byKey)
	sums.Spans = finished(t.Spans, t.Census.spans.of, byTime)
}

func byKey(a, b fleet.Tally) int  { return strings.Compare(a.Key, b.Key) }
func byTime(a, b fleet.Tally) int { return a.First.Compare(b.First) }

func finished(parts []Part, counts func(key string) different, order func(a, b fleet.Tally) int) []fleet.Tally {
	tallies := make([]fleet.Tally, len(parts))
	for i, p := range parts {
		of := counts(p.Key)
		p.Bikes, p.Riders, p.Days = of.bikes, of.riders, of.days
		p.CapacityWh = p.capacity.Mean().Value
		tallies[i] = p.Tally
	}
	slices.SortFunc(tallies, order)
	return tallies
}

// none is the tally of no rides.
func none(key string) Part {
	return Part{Tally: fleet.Tally{Key: key, WindingPeakC: math.NaN(), WindingLimitC: math.NaN()}}
}

// add takes in the rides of another part.
func (p *Part) add(o *Part, all []aggregate) {
	p.Group = max(p.Group, o.Group)
	for _, a := range all {
		switch to := a.at(p).(type) {
		case *int64:
			*to += *a.at(o).(*int64)
		case *float64:
			*to = a.joined(*to, *a.at(o).(*float64))
		case *time.Time:
			from := *a.at(o).(*time.Time)
			if to.IsZero() || !from.IsZero() && a.better(float64(from.Unix()), float64(to.Unix())) {
				*to = from
			}
		}
	}
}

// An aggregate is one number of a part: how SQL makes it, where it goes, and,
// where it is no sum, which of two is kept.
type aggregate struct {
	expr   string
	at     func(*Part) any
	better func(a, b float64) bool
}

func (a aggregate) joined(x, y float64) float64 {
	switch {
	case a.better == nil:
		return x + y
	case math.IsNaN(x) || a.better(y, x):
		return y
	}
	return x
}

func aggregates() []aggregate {
	whole := func(expr string, at func(*Part) any) aggregate {
		return aggregate{expr: "CAST(COALESCE(" + expr + ", 0) AS BIGINT)", at: at}
	}
	real := func(expr string, at func(*Part) any) aggregate {
		return aggregate{expr: "COALESCE(" + expr + ", 0)", at: at}
	}
	least := func(of string, at func(*Part) any) aggregate {
		return aggregate{"MIN(" + of + ")", at, func(a, b float64) bool { return a < b }}
	}
	greatest := func(of string, at func(*Part) any) aggregate {
		return aggregate{"MAX(" + of + ")", at, func(a, b float64) bool { return a > b }}
	}
	all := []aggregate{
		whole("COUNT(*)", func(p *Part) any { return &p.Rides }),
		least("start", func(p *Part) any { return &p.First }),
		greatest("start", func(p *Part) any { return &p.Last }),
		whole("SUM(moving_s)", func(p *Part) any { return &p.MovingS }),
		real("SUM(distance_m/1000)", func(p *Part) any { return &p.Km }),
	}
	all = append(all, pairs("distance_m/1000", "lugging_loss_wh", func(p *Part) *fleet.Pairs { return &p.Loss })...)
	all = append(all, pairs("distance_m/1000", "battery_wh", func(p *Part) *fleet.Pairs { return &p.Battery })...)
	return append(all,
		real("SUM(plan_saving_wh)", func(p *Part) any { return &p.PlanWh }),
		real("SUM((lugging_loss_high_wh - lugging_loss_low_wh)/2)", func(p *Part) any { return &p.DoubtWh }),
		real("SUM(CASE WHEN lugging_loss_low_wh IS NOT NULL THEN lugging_loss_wh END)", func(p *Part) any { return &p.DoubtOfWh }),
		whole("COUNT(lugging_loss_low_wh)", func(p *Part) any { return &p.Doubted }),
		whole("SUM(lugging_s)", func(p *Part) any { return &p.LuggingS }),
		whole("SUM(in_band_s)", func(p *Part) any { return &p.InBandS }),
		whole("SUM(spinning_out_s)", func(p *Part) any { return &p.SpinningS }),
		whole("SUM(legs_lugging_s)", func(p *Part) any { return &p.LegsLuggingS }),
		whole("SUM(pedalling_s)", func(p *Part) any { return &p.PedallingS }),
		whole("SUM(gear_named_s)", func(p *Part) any { return &p.NamedS }),
		greatest("winding_peak_c", func(p *Part) any { return &p.WindingPeakC }),
		least("winding_limit_c", func(p *Part) any { return &p.WindingLimitC }),
		whole("SUM(over_limit_s)", func(p *Part) any { return &p.OverLimitS }),
		whole("SUM(CASE WHEN over_limit_s > 0 THEN 1 ELSE 0 END)", func(p *Part) any { return &p.OverRides }),
		whole("COUNT(resistance_ratio)", func(p *Part) any { return &p.Resistance.N }),
		real("SUM(resistance_ratio)", func(p *Part) any { return &p.Resistance.X }),
		real("SUM(resistance_ratio*resistance_ratio)", func(p *Part) any { return &p.Resistance.XX }),
		whole("SUM(CASE WHEN resistance_ratio IS NOT NULL THEN resistance_s END)", func(p *Part) any { return &p.ResistanceS }),
		whole("COUNT(capacity_wh)", func(p *Part) any { return &p.capacity.N }),
		real("SUM(capacity_wh)", func(p *Part) any { return &p.capacity.X }),
		whole("SUM(CASE WHEN basis = 'modelled' THEN 1 ELSE 0 END)", func(p *Part) any { return &p.Modelled }),
		whole("SUM(CASE WHEN made THEN 1 ELSE 0 END)", func(p *Part) any { return &p.Made }),
		whole("SUM(warnings)", func(p *Part) any { return &p.Warnings }),
	)
}

// pairs are the sums over the rides that have both numbers.
func pairs(x, y string, of func(*Part) *fleet.Pairs) []aggregate {
	// x + 0*y is null where y is, so that each sum runs over the same rides.
	both := "(" + x + " + 0*" + y + ")"
	product := both + "*" + y
	return []aggregate{
		{expr: "COUNT(" + product + ")", at: func(p *Part) any { return &of(p).N }},
		{expr: "COALESCE(SUM(" + both + "), 0)", at: func(p *Part) any { return &of(p).X }},
		{expr: "COALESCE(SUM(CASE WHEN distance_m IS NOT NULL THEN " + y + " END), 0)", at: func(p *Part) any { return &of(p).Y }},
		{expr: "COALESCE(SUM(" + both + "*" + both + "), 0)", at: func(p *Part) any { return &of(p).XX }},
		{expr: "COALESCE(SUM(" + product + "), 0)", at: func(p *Part) any { return &of(p).XY }},
		{expr: "COALESCE(SUM(CASE WHEN distance_m IS NOT NULL THEN " + y + "*" + y + " END), 0)", at: func(p *Part) any { return &of(p).YY }},
	}
}
