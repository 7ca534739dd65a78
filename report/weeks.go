package report

import (
	"fmt"
	"strings"

	"cogledger/analysis/doubt"
	"cogledger/analysis/trend"
)

// A weeksPart sets the weeks of a set side by side, on ground made equal.
type weeksPart struct {
	Table    table
	Sentence string // how the last week compares with those before it
	Explain  string
}

// weeks is nil where the rides span one week only.
func weeks(t trend.Trend, u units, o Options) *weeksPart {
	if len(t.Weeks) < 2 {
		return nil
	}
	return &weeksPart{
		Table:    weekTable(t.Weeks, u, o),
		Sentence: lastWeek(t.Latest, u),
		Explain: "Corrected figures allow for hills, load and assist: they are what the week would have been on the ground of all these rides. " +
			"Ranges hold in nine cases out of ten, and are left out for a week of one ride. " +
			"A change is called only where chance alone makes one as large in at most one of twenty cases.",
	}
}

func weekTable(all []trend.Week, u units, o Options) table {
	perDistance := u.perDistance.unit
	t := table{Caption: "The weeks", Columns: columns("Week from", "#Rides", "#Distance, "+u.distance.unit, "#Climbed, "+u.height.unit,
		"#As metered, "+perDistance, "#Corrected, "+perDistance, "#Lugging, % of loaded time, corrected")}
	share := measure{factor: 100, digits: 0}
	for i, w := range all {
		name := w.Monday.Format("2 January 2006")
		if o.Privacy {
			name = fmt.Sprint(i + 1)
		}
		t.Rows = append(t.Rows, tableRow{Cells: texts(name, fmt.Sprint(w.Rides), u.distance.bare(w.Distance), u.height.bare(w.Ascent),
			u.perDistance.bare(w.Group.WhPerKm), withDoubt(w.WhPerKm, u.perDistance), withDoubt(w.Lugging, share))})
	}
	return t
}

// lastWeek words what is called of the two main figures.
func lastWeek(c *trend.Comparison, u units) string {
	if c == nil {
		return ""
	}
	var parts []string
	for _, ch := range c.Changes {
		m, name := u.perDistance, "energy for the distance"
		switch ch.Key {
		case trend.LuggingShare:
			m, name = measure{unit: "points", factor: 100, digits: 1}, "time lugging"
		case trend.EnergyPerKm:
		default:
			continue
		}
		parts = append(parts, called(name, ch, m))
	}
	if len(parts) == 0 {
		return "The last week cannot be compared with those before it: the logs do not tell enough."
	}
	return "The last week against those before it: " + strings.Join(parts, "; ") + "."
}

func called(name string, ch trend.Change, m measure) string {
	by := func(f doubt.Figure) string {
		if in := interval(f, m); in != "" {
			return figure(f, m) + ", " + in
		}
		return figure(f, m)
	}
	switch ch.Verdict {
	case trend.Improved:
		return fmt.Sprintf("%s improved by %s", name, by(negative(ch.Difference)))
	case trend.Worse:
		return fmt.Sprintf("%s is worse by %s", name, by(ch.Difference))
	case trend.NoChange:
		return fmt.Sprintf("%s has not changed by more than %s", name, figure(doubt.Figure{Value: ch.Margin}, m))
	}
	return fmt.Sprintf("of %s nothing can be told", name)
}

func negative(f doubt.Figure) doubt.Figure {
	return doubt.Figure{Value: -f.Value, Low: -f.High, High: -f.Low, Basis: f.Basis}
}
