package store

import (
	"fmt"

	"cogledger/analysis/fleet"
)

// HabitQuery sums the habits by group and kind, at first those of each bike
// and rider: few are left to tell apart. Its rows are read by ScanHabit.
func HabitQuery(rides Counted) string {
	return `SELECT team, kind, COUNT(DISTINCT CASE WHEN with_it > 0 THEN bike END), COUNT(DISTINCT CASE WHEN with_it > 0 THEN NULLIF(rider, '') END),
	CAST(SUM(with_it) AS BIGINT), CAST(SUM(times) AS BIGINT), CAST(SUM(chances) AS BIGINT), SUM(cost)
	FROM (SELECT r.team, h.kind, r.bike, r.rider, COUNT(CASE WHEN h.count > 0 THEN 1 END) AS with_it,
		SUM(h.count) AS times, SUM(h.opportunities) AS chances, COALESCE(SUM(h.cost_wh), 0) AS cost
		FROM habits h JOIN ` + string(rides) + ` AS r ON r.content = h.content AND r.part = h.part
		GROUP BY r.team, h.kind, r.bike, r.rider) AS each_bike
	GROUP BY team, kind ORDER BY team, kind`
}

// CellQuery sums the stretches by cell and direction. Its rows are read by
// ScanCell.
func CellQuery(q Question, rides Counted) string {
	ends := ""
	if q.HideEnds {
		ends = "AND NOT s.near_end"
	}
	return fmt.Sprintf(`SELECT s.cell, s.direction, COUNT(DISTINCT r.bike) AS bikes, COUNT(DISTINCT NULLIF(r.rider, '')) AS riders,
	COUNT(*), CAST(SUM(s.to_s - s.from_s) AS BIGINT), COALESCE(SUM(s.loss_wh), 0), AVG(s.grade), AVG(s.lat), AVG(s.lon)
	FROM segments s JOIN %[3]s AS r ON r.content = s.content AND r.part = s.part
	WHERE s.cell <> 0 %[1]s
	GROUP BY s.cell, s.direction
	HAVING COUNT(DISTINCT r.bike) >= %[2]d AND (COUNT(DISTINCT NULLIF(r.rider, '')) = 0 OR COUNT(DISTINCT NULLIF(r.rider, '')) >= %[2]d)
	ORDER BY s.cell, s.direction`, ends, max(q.Least, 1), rides)
}

// ForgetStatements let a rider's rows go, in this order; the last counts the
// logs. Rider is how the database writes the first argument of a statement.
func ForgetStatements(rider string) []string {
	theirs := "(SELECT content FROM rides WHERE rider = " + rider + ")"
	return []string{
		"DELETE FROM habits WHERE content IN " + theirs,
		"DELETE FROM segments WHERE content IN " + theirs,
		"UPDATE logs SET version = '' WHERE rider <> " + rider + " AND content IN " + theirs,
		"DELETE FROM rides WHERE rider = " + rider,
		"DELETE FROM logs WHERE rider = " + rider,
	}
}

// ForgetBeforeStatements let the rows go of logs that began before a moment, in
// this order; the last counts the logs. Moment is how the database writes the
// first argument, in seconds since 1970. Logs without a time stay.
func ForgetBeforeStatements(moment string) []string {
	old := "(SELECT content FROM logs WHERE start < " + moment + ")"
	return []string{
		"DELETE FROM habits WHERE content IN " + old,
		"DELETE FROM segments WHERE content IN " + old,
		"DELETE FROM rides WHERE content IN " + old,
		"DELETE FROM logs WHERE start < " + moment,
	}
}

// ProblemQuery lists the logs that could not be used.
func ProblemQuery(q Question) string {
	limit := ""
	if q.Problems > 0 {
		limit = fmt.Sprintf(" LIMIT %d", q.Problems)
	}
	return "SELECT path, problem FROM logs WHERE problem <> '' ORDER BY path" + limit
}

// LogsQuery counts the logs, and those whose content another log brought: of
// the usable ones with the same content all but one.
func LogsQuery() string {
	return `SELECT CAST(COALESCE(SUM(logs), 0) AS BIGINT), CAST(COALESCE(SUM(usable), 0) AS BIGINT) - COUNT(CASE WHEN usable > 0 THEN 1 END)
	FROM (SELECT COUNT(*) AS logs, COUNT(CASE WHEN problem = '' THEN 1 END) AS usable FROM logs GROUP BY content) AS contents`
}

// VersionQuery counts the rides of each version. Its rows are read by
// ScanVersion.
func VersionQuery(rides Counted) string {
	return "SELECT version, COUNT(*) FROM " + string(rides) + " AS r GROUP BY version"
}

// ScanVersion reads a row of VersionQuery.
func ScanVersion(scan func(...any) error) (fleet.VersionTally, error) {
	var v fleet.VersionTally
	return v, scan(&v.Version, &v.Rides)
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

// Names lists the names of columns.
func Names[Row any](columns []fleet.Column[Row]) []string {
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = c.Name
	}
	return names
}
