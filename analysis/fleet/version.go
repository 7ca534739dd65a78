package fleet

import (
	"cmp"
	"fmt"

	"cogledger/analysis"
)

// Version names the analysis and the rows together.
func Version() string { return fmt.Sprintf("%d.%d", analysis.Version, RowsVersion) }

// Newer reports whether version a is later than b. What is no version, as the
// mark of rows that are to be made again, is earlier than any.
func Newer(a, b string) bool {
	x, y := numbers(a), numbers(b)
	return cmp.Or(cmp.Compare(x[0], y[0]), cmp.Compare(x[1], y[1])) > 0
}

// numbers are those of the analysis and the rows.
func numbers(version string) [2]int {
	var n [2]int
	if _, err := fmt.Sscanf(version, "%d.%d", &n[0], &n[1]); err != nil {
		return [2]int{-1, -1}
	}
	return n
}

// A VersionTally counts the rides that one version has reviewed.
type VersionTally struct {
	Version string
	Rides   int64
}

// InOrder compares by version, the earliest first.
func (a VersionTally) InOrder(b VersionTally) int {
	x, y := numbers(a.Version), numbers(b.Version)
	return cmp.Or(cmp.Compare(x[0], y[0]), cmp.Compare(x[1], y[1]), cmp.Compare(a.Version, b.Version))
}
