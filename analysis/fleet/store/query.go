package store

import (
	"fmt"
	"math"
	"strings"
	"time"

	"cogledger/analysis/fleet"
)

// A By is what rides are summed by.
type By string

// The keys of tallies, as SQL on the rides table. A week begins on Monday; the
// epoch's first day was a Thursday.
const (
	ByAll   By = "''"
	ByBike  By = "bike"
	ByRider By = "rider"
	ByGroup By = "team"
	ByMonth By = "month"
	ByWeek  By = "CAST((start/86400 + 3)/7 AS TEXT)"
)

// TallyQuery sums the rides by a key. Its rows are read by ScanTally.
func TallyQuery(by By) string {
	var exprs []string
	for _, s := range tallySums(&fleet.Tally{}) {
		exprs = append(exprs, s.expr)
	}
	where := ""
	if by == ByWeek || by == ByMonth {
		where = " WHERE start IS NOT NULL"
	}
	group := ""
	if by != ByAll {
		group = fmt.Sprintf(" GROUP BY %s ORDER BY %[1]s", by)
		if by == ByWeek || by == ByMonth {
			group = fmt.Sprintf(" GROUP BY %s ORDER BY MIN(start)", by)
		}
	}
	return fmt.Sprintf("SELECT %s, %s FROM rides%s%s", by, strings.Join(exprs, ", "), where, group)
}

// HabitQuery sums the habits by group and kind. Its rows are read by ScanHabit.
func HabitQuery() string {
	return `SELECT r.team, h.kind,
	COUNT(DISTINCT CASE WHEN h.count > 0 THEN r.bike END), COUNT(DISTINCT CASE WHEN h.count > 0 THEN NULLIF(r.rider, '') END),
	COUNT(CASE WHEN h.count > 0 THEN 1 END), CAST(SUM(h.count) AS BIGINT), CAST(SUM(h.opportunities) AS BIGINT), COALESCE(SUM(h.cost_wh), 0)
	FROM habits h JOIN rides r ON r.content = h.content AND r.part = h.part
	GROUP BY r.team, h.kind ORDER BY r.team, h.kind`
}

// CellQuery sums the stretches by cell and direction. Its rows are read by
// ScanCell.
func CellQuery(q Question) string {
	ends := ""
	if q.HideEnds {
		ends = "AND NOT s.near_end"
	}
	return fmt.Sprintf(`SELECT s.cell, s.direction, COUNT(DISTINCT r.bike) AS bikes, COUNT(DISTINCT NULLIF(r.rider, '')) AS riders,
	COUNT(*), CAST(SUM(s.to_s - s.from_s) AS BIGINT), COALESCE(SUM(s.loss_wh), 0), AVG(s.grade), AVG(s.lat), AVG(s.lon)
	FROM segments s JOIN rides r ON r.content = s.content AND r.part = s.part
	WHERE s.cell <> 0 %s
	GROUP BY s.cell, s.direction
	HAVING COUNT(DISTINCT r.bike) >= %d AND (COUNT(DISTINCT NULLIF(r.rider, '')) = 0 OR COUNT(DISTINCT NULLIF(r.rider, '')) >= %[2]d)
	ORDER BY s.cell, s.direction`, ends, max(q.Least, 1))
}

// ProblemQuery lists the logs that could not be used.
func ProblemQuery(q Question) string {
	limit := ""
	if q.Problems > 0 {
		limit = fmt.Sprintf(" LIMIT %d", q.Problems)
	}
	return "SELECT path, problem FROM logs WHERE problem <> '' ORDER BY path" + limit
}

// LogsQuery counts the logs, and those whose content another log brought.
func LogsQuery() string {
	return `SELECT COUNT(*), COUNT(CASE WHEN l.problem = '' AND NOT EXISTS (SELECT 1 FROM rides r WHERE r.content = l.content AND r.path = l.path) THEN 1 END) FROM logs l`
}

// ScanTally reads a row of TallyQuery.
func ScanTally(scan func(...any) error) (fleet.Tally, error) {
	var t fleet.Tally
	into := []any{&t.Key}
	for _, s := range tallySums(&t) {
		into = append(into, s.into)
	}
	return t, scan(into...)
}

// ScanHabit reads a row of HabitQuery.
func ScanHabit(scan func(...any) error) (fleet.HabitTally, error) {
	var h fleet.HabitTally
	return h, scan(&h.Group, &h.Kind, &h.Bikes, &h.Riders, &h.Rides, &h.Count, &h.Opportunities, &h.CostWh)
}

// ScanCell reads a row of CellQuery.
func ScanCell(scan func(...any) error) (fleet.CellTally, error) {
	var c fleet.CellTally
	return c, scan(&c.Cell, &c.Direction, &c.Bikes, &c.Riders, &c.Rides, &c.Seconds, &c.LossWh, Into(&c.Grade), Into(&c.Lat), Into(&c.Lon))
}

// ScanProblem reads a row of ProblemQuery.
func ScanProblem(scan func(...any) error) (fleet.Problem, error) {
	var p fleet.Problem
	return p, scan(&p.Path, &p.Text)
}

// An aggregate is one sum of a tally: how SQL makes it, and where it goes.
type aggregate struct {
	expr string
	into any
}

func tallySums(t *fleet.Tally) []aggregate {
	whole := func(expr string, into *int64) aggregate {
		return aggregate{"CAST(COALESCE(" + expr + ", 0) AS BIGINT)", into}
	}
	real := func(expr string, into *float64) aggregate { return aggregate{"COALESCE(" + expr + ", 0)", into} }
	known := func(expr string, into *float64) aggregate { return aggregate{expr, Into(into)} }
	all := []aggregate{
		{"COALESCE(MAX(team), '')", &t.Group},
		whole("COUNT(DISTINCT bike)", &t.Bikes),
		whole("COUNT(DISTINCT NULLIF(rider, ''))", &t.Riders),
		whole("COUNT(*)", &t.Rides),
		whole("COUNT(DISTINCT start/86400)", &t.Days),
		{"MIN(start)", Into(&t.First)},
		{"MAX(start)", Into(&t.Last)},
		whole("SUM(moving_s)", &t.MovingS),
		real("SUM(distance_m/1000)", &t.Km),
	}
	all = append(all, pairs("distance_m/1000", "lugging_loss_wh", &t.Loss)...)
	all = append(all, pairs("distance_m/1000", "battery_wh", &t.Battery)...)
	return append(all,
		real("SUM(plan_saving_wh)", &t.PlanWh),
		real("SUM((lugging_loss_high_wh - lugging_loss_low_wh)/2)", &t.DoubtWh),
		real("SUM(CASE WHEN lugging_loss_low_wh IS NOT NULL THEN lugging_loss_wh END)", &t.DoubtOfWh),
		whole("SUM(lugging_s)", &t.LuggingS),
		whole("SUM(in_band_s)", &t.InBandS),
		whole("SUM(spinning_out_s)", &t.SpinningS),
		whole("SUM(legs_lugging_s)", &t.LegsLuggingS),
		whole("SUM(pedalling_s)", &t.PedallingS),
		whole("SUM(gear_named_s)", &t.NamedS),
		known("MAX(winding_peak_c)", &t.WindingPeakC),
		known("MIN(winding_limit_c)", &t.WindingLimitC),
		whole("SUM(over_limit_s)", &t.OverLimitS),
		whole("SUM(CASE WHEN over_limit_s > 0 THEN 1 ELSE 0 END)", &t.OverRides),
		whole("COUNT(resistance_ratio)", &t.Resistance.N),
		real("SUM(resistance_ratio)", &t.Resistance.X),
		real("SUM(resistance_ratio*resistance_ratio)", &t.Resistance.XX),
		whole("SUM(CASE WHEN resistance_ratio IS NOT NULL THEN resistance_steps END)", &t.ResistanceSteps),
		known("AVG(capacity_wh)", &t.CapacityWh),
		whole("SUM(CASE WHEN basis = 'modelled' THEN 1 ELSE 0 END)", &t.Modelled),
		whole("SUM(CASE WHEN made THEN 1 ELSE 0 END)", &t.Made),
		whole("SUM(warnings)", &t.Warnings),
	)
}

// pairs are the sums over the rides that have both numbers.
func pairs(x, y string, into *fleet.Pairs) []aggregate {
	// x + 0*y is null where y is, so that each sum runs over the same rides.
	both := "(" + x + " + 0*" + y + ")"
	product := both + "*" + y
	return []aggregate{
		{"COUNT(" + product + ")", &into.N},
		{"COALESCE(SUM(" + both + "), 0)", &into.X},
		{"COALESCE(SUM(CASE WHEN distance_m IS NOT NULL THEN " + y + " END), 0)", &into.Y},
		{"COALESCE(SUM(" + both + "*" + both + "), 0)", &into.XX},
		{"COALESCE(SUM(" + product + "), 0)", &into.XY},
		{"COALESCE(SUM(CASE WHEN distance_m IS NOT NULL THEN " + y + "*" + y + " END), 0)", &into.YY},
	}
}

// Out is a row's value as stored: NaN and the zero time are null, times whole
// seconds since 1970 in UTC.
func Out(value any) any {
	switch v := value.(type) {
	case float64:
		if math.IsNaN(v) {
			return nil
		}
	case time.Time:
		if v.IsZero() {
			return nil
		}
		return v.Unix()
	}
	return value
}

// Into is what a stored value is scanned into so that null becomes NaN or the
// zero time: At's pointer, wrapped where need be.
func Into(pointer any) any {
	switch p := pointer.(type) {
	case *float64:
		return &nullable{p}
	case *time.Time:
		return &moment{p}
	}
	return pointer
}

type nullable struct{ into *float64 }

// Scan implements sql.Scanner.
func (n *nullable) Scan(value any) error {
	switch v := value.(type) {
	case nil:
		*n.into = math.NaN()
	case float64:
		*n.into = v
	case int64: // a whole number in a column of reals
		*n.into = float64(v)
	default:
		return fmt.Errorf("a %T where a number belongs", value)
	}
	return nil
}

type moment struct{ into *time.Time }

// Scan implements sql.Scanner.
func (m *moment) Scan(value any) error {
	switch v := value.(type) {
	case nil:
		*m.into = time.Time{}
	case int64:
		*m.into = time.Unix(v, 0).UTC()
	default:
		return fmt.Errorf("a %T where seconds since 1970 belong", value)
	}
	return nil
}

// Names lists the names of columns.
func Names[Row any](columns []fleet.Column[Row]) []string {
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = c.Name
	}
	return names
}
