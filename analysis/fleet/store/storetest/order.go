package storetest

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"cogledger/analysis/fleet"
)

func sortedKeys[V any](m map[string]V) []string { return slices.Sorted(maps.Keys(m)) }

func sortCells(all []fleet.CellTally) {
	slices.SortFunc(all, func(a, b fleet.CellTally) int {
		return cmp.Or(cmp.Compare(a.Cell, b.Cell), cmp.Compare(a.Direction, b.Direction))
	})
}

// or0 leaves an unknown number out of a sum.
func or0(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return v
}
