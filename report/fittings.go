package report

import (
	"fmt"

	"cogledger/analysis/replay"
)

// A fittingsPart tells whether another ring or cassette would be worth its
// price.
type fittingsPart struct {
	Sentence string
	Table    *table // nil where nothing is worth a row
}

// fittings is nil where none were tried.
func (v *view) fittings(u units) *fittingsPart {
	if len(v.Fittings) == 0 {
		return nil
	}
	now, worth := v.Fittings[0], v.WorthFittings()
	if len(worth) == 0 {
		return &fittingsPart{Sentence: "No chainring or cassette of the sizes on sale would have done noticeably better on this ride."}
	}
	best := worth[0]
	f := &fittingsPart{Sentence: fmt.Sprintf("The best found among the sizes on sale: %s. It would have taken %s less than what is fitted, %s, both shifted at their best.",
		best.Name, number(best.SavingWh, sensible(best.SavingWh), u.energy.unit), percent(best.SavingWh/now.BatteryWh))}
	t := table{
		Caption: "Chainrings and cassettes that would have taken noticeably less, every loaded second in its best gear, shifts free",
		Columns: columns("Fitted", "#Battery, Wh", "#Saves, Wh", "#Saves", "#Keeps up", "#Legs out of band"),
	}
	for _, x := range append([]replay.Fitting{now}, worth...) {
		saves, part := "–", "–"
		if !x.Fitted {
			saves, part = cellNumber(x.SavingWh, sensible(x.SavingWh)), percent(x.SavingWh/now.BatteryWh)
		}
		t.Rows = append(t.Rows, tableRow{Cells: texts(x.Name, u.energy.bare(x.BatteryWh), saves, part, percent(x.HeldShare), percent(x.LegsOut))})
	}
	f.Table = &t
	return f
}
