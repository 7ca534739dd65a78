package coach

import (
	"fmt"
	"slices"

	"cogledger/analysis/bike"
)

// gearWords names gears so that a rider who has never counted teeth finds
// them.
type gearWords struct{ all []bike.Gear }

// name is like "the 2nd largest cog at the back (36 teeth)".
func (g gearWords) name(index int) string {
	if index < 0 || index >= len(g.all) {
		return "an easier gear"
	}
	x := g.all[index]
	if x.HubStep > 0 {
		return fmt.Sprintf("gear %d of the hub", x.HubStep)
	}
	var cogs, rings []int
	for _, y := range g.all {
		cogs, rings = append(cogs, y.Rear), append(rings, y.Front)
	}
	cogs, rings = distinct(cogs), distinct(rings)
	words := cogName(slices.Index(cogs, x.Rear), len(cogs)) + fmt.Sprintf(" (%d teeth)", x.Rear)
	if len(rings) > 1 {
		words += " with " + ringName(slices.Index(rings, x.Front), len(rings)) + " at the front"
	}
	return words
}

// short is the gear in teeth, "38/36".
func (g gearWords) short(index int) string {
	if index < 0 || index >= len(g.all) {
		return "?"
	}
	return g.all[index].String()
}

// distinct sorts upwards and drops repeats.
func distinct(teeth []int) []int {
	slices.Sort(teeth)
	return slices.Compact(teeth)
}

// cogName counts from whichever end is nearer; k counts from the smallest.
func cogName(k, of int) string {
	fromLargest := of - 1 - k
	if fromLargest <= k {
		return "the " + nth(fromLargest, "largest") + " cog at the back"
	}
	return "the " + nth(k, "smallest") + " cog at the back"
}

func ringName(k, of int) string {
	switch {
	case k == 0:
		return "the small ring"
	case k == of-1:
		return "the big ring"
	}
	return "the middle ring"
}

func nth(k int, most string) string {
	switch k {
	case 0:
		return most
	case 1:
		return "2nd " + most
	case 2:
		return "3rd " + most
	}
	return fmt.Sprintf("%dth %s", k+1, most)
}
