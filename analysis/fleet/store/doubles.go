package store

import (
	"strconv"

	"cogledger/analysis/fleet"
)

// OverlapQuery asks for the rides that share time with another of the same
// bike. Its rows are read by ScanSpan.
func OverlapQuery() string {
	return `SELECT content, part, path, bike, rider, start, duration_s, distance_m, basis FROM (
	SELECT content, part, path, bike, rider, start, duration_s, distance_m, basis,
		MAX(start + duration_s) OVER (PARTITION BY bike ORDER BY start, content, part ROWS BETWEEN UNBOUNDED PRECEDING AND 1 PRECEDING) AS before,
		LEAD(start) OVER (PARTITION BY bike ORDER BY start, content, part) AS next
	FROM rides WHERE start IS NOT NULL) AS each_bike
	WHERE start < before OR next < start + duration_s ORDER BY bike, start, content, part`
}

// ScanSpan reads a row of OverlapQuery.
func ScanSpan(scan func(...any) error) (fleet.Span, error) {
	var s fleet.Span
	return s, scan(&s.Content, &s.Part, &s.Path, &s.Bike, &s.Rider, Into(&s.Start), &s.Seconds, Into(&s.DistanceM), &s.Basis)
}

// Counted is what the questions of a summary read rides from: the table, or
// what is left of it without the rides that another log holds too.
type Counted string

// AllRides counts every ride.
const AllRides Counted = "rides"

// Without leaves doubles out. Keys is how the database writes a set of keys
// that it is handed, as DoubleKeys makes them.
func Without(keys string) Counted {
	return Counted("(SELECT * FROM rides WHERE content || '/' || part NOT IN " + keys + ")")
}

// DoubleKeys are the keys of rides for Without.
func DoubleKeys(doubles []fleet.Double) []string {
	keys := make([]string, len(doubles))
	for i, d := range doubles {
		keys[i] = d.Content + "/" + strconv.FormatInt(d.Part, 10)
	}
	return keys
}
