package shifts

import (
	"fmt"
	"math"
	"sort"

	"cogledger/analysis/bike"
)

// What makes a moment worth telling.
const (
	worthPart    = 0.02 // of the stretch's battery energy
	worthPrices  = 2    // prices of a shift: there and back
	mostAnHour   = 10
	flatGrade    = 0.015
	secondsAHour = 3600
)

// Advise marks the moments worth acting on: their interval does not hold zero,
// they save more than two shifts are worth and 2 % of what the battery gave. Of
// those the largest are advised, at most ten an hour of moving time. Call it
// again when the intervals are known.
func Advise(moments []Moment, p *bike.Profile, movingSeconds int) {
	order := make([]int, 0, len(moments))
	for i := range moments {
		x := &moments[i]
		x.Worth = !x.Saving.HoldsZero() && x.Saving.Value*joulesPerWh > worthPrices*p.Shifting.PriceJ && x.Saving.Value > worthPart*math.Abs(x.RiddenWh)
		x.Advised = false
		if x.Worth {
			order = append(order, i)
		}
	}
	sort.SliceStable(order, func(a, b int) bool {
		return moments[order[a]].Saving.Value > moments[order[b]].Saving.Value
	})
	most := max(1, mostAnHour*movingSeconds/secondsAHour)
	for _, i := range order[:min(most, len(order))] {
		moments[i].Advised = true
	}
}

// placeWords tells where a stretch lies in words that a rider can use.
func placeWords(startM, grade float64, fromStand bool) string {
	words := fmt.Sprintf("km %.1f", startM/1000)
	if fromStand {
		words += ", start from a stand"
	}
	switch {
	case math.IsNaN(grade):
	case grade >= flatGrade:
		words += fmt.Sprintf(", climb of %.0f %%", grade*100)
	case grade <= -flatGrade:
		words += fmt.Sprintf(", descent of %.0f %%", -grade*100)
	default:
		words += ", level road"
	}
	return words
}
