package report

import (
	"fmt"

	"cogledger/analysis/replay"
)

// A startsPart sets what each gear could give from a stand beside the starts
// of the ride.
type startsPart struct {
	Sentence string
	Table    table
}

// starts is nil where no start test was made.
func (v *view) starts(u units) *startsPart {
	if len(v.Starts) == 0 {
		return nil
	}
	s := &startsPart{Sentence: v.startsWords(u), Table: table{
		Caption: "Starts from a stand on the flat with full assist, worked out for every gear, beside the starts found in this ride",
		Columns: columns("Gear", "#Acceleration at first, m/s²", "#0 to "+u.startSpeed()+", s", "#Heat in the winding, J", "Held by", "#Starts ridden", "#Ridden 0 to "+u.startSpeed()+", s"),
	}}
	for _, x := range v.Starts {
		ridden := "–"
		if x.Starts > 0 {
			ridden = fmt.Sprint(x.Starts)
		}
		s.Table.Rows = append(s.Table.Rows, tableRow{Cells: texts(x.Gear.String(), cellNumber(x.Accel, 2), reached(x.To15), cellNumber(x.CopperJ, 0),
			x.Limit.String(), ridden, cellNumber(x.RiddenTo15, 1))})
	}
	return s
}

// startSpeed words the 15 km/h that end a start.
func (u units) startSpeed() string {
	v := u.speed.of(15 / 3.6)
	return number(v, markDigits(round(v, 1)), u.speed.unit)
}

// startsWords compares the gear most started in with the one that starts best.
func (v *view) startsWords(u units) string {
	total, most, best := 0, 0, 0
	for k, x := range v.Starts {
		total += x.Starts
		if x.Starts > v.Starts[most].Starts {
			most = k
		}
		if !finite(v.Starts[best].To15) || x.To15 < v.Starts[best].To15 {
			best = k
		}
	}
	usual, quickest := v.Starts[most], v.Starts[best]
	if total == 0 || !finite(quickest.To15) {
		return ""
	}
	to := u.startSpeed()
	if most == best {
		return fmt.Sprintf("%s began in %s, the gear that is soonest at %s.", mostStarts(total, usual), usual.Gear, to)
	}
	took := fmt.Sprintf("takes %s", number(usual.To15, 1, "s"))
	if !finite(usual.To15) {
		took = "never comes so far"
	}
	return fmt.Sprintf("%s began in %s. With full assist on the flat that gear %s to %s and puts %s of heat into the winding; %s takes %s and %s.",
		mostStarts(total, usual), usual.Gear, took, to, number(usual.CopperJ, 0, "J"), quickest.Gear, number(quickest.To15, 1, "s"), number(quickest.CopperJ, 0, "J"))
}

func mostStarts(total int, usual replay.LaunchRow) string {
	if total == 1 {
		return "The one start from a stand whose gear is known"
	}
	return fmt.Sprintf("Of the %d starts from a stand whose gear is known, %d", total, usual.Starts)
}
