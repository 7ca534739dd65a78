package fleet

import (
	"fmt"
	"slices"

	"cogledger/analysis/fleet"
)

// lineGrid ranks bikes or riders.
func lineGrid(id, what string, lines []fleet.Line, s *fleet.Summary) *grid {
	if len(lines) == 0 {
		return nil
	}
	g := &grid{
		ID: id, Verdicts: true, mark: s.Fleet.LossPerKm.Value,
		Caption: fmt.Sprintf("Energy lost to lugging a kilometre, dearest first. The line spans the range that holds in nine cases out of ten, the upright mark is the whole fleet. A %s needs %d rides on %d days and %.0f km to be ranked.", what, fleet.DefaultRule().Rides, fleet.DefaultRule().Days, fleet.DefaultRule().Km),
		Heads: []head{{"#", number, 0}, {capital(what), text, 0}, {"Group", text, 0}, {"Lost, Wh/km", spread, lossDigits(s)}, {"Verdict", text, 0}, {"Lugging, %", number, 1},
			{"Used, Wh/km", number, 1}, {"Rides", number, 0}, {"km", number, 0}, {"Lost in 30 days, Wh", number, 1}, {"Saved by the plan, Wh", number, 1}},
	}
	grouped := false
	for _, l := range lines {
		rank := nan()
		if l.Rank > 0 {
			rank = float64(l.Rank)
		}
		grouped = grouped || l.Group != ""
		g.Rows = append(g.Rows, gridRow{
			Cells: []any{rank, l.Name, l.Group, ranged(l.LossPerKm), verdict(l), 100 * l.LuggingShare, l.BatteryPerKm, float64(l.Rides), l.Km, l.Worth.LossWh.Value, l.Worth.PlanWh},
			Out:   l.Verdict == fleet.StandsOut, Little: l.Verdict == fleet.TooLittle,
		})
		if l.Group != "" && !slices.Contains(g.Groups, l.Group) {
			g.Groups = append(g.Groups, l.Group)
		}
	}
	slices.Sort(g.Groups)
	if !grouped {
		g.drop("Group")
	}
	g.scale()
	return g
}

// verdict in words; what is modelled says so.
func verdict(l fleet.Line) string {
	v := l.Verdict.String()
	if l.Modelled {
		v += ", modelled"
	}
	return v
}

// drop takes a column out.
func (g *grid) drop(name string) {
	at := slices.IndexFunc(g.Heads, func(h head) bool { return h.Name == name })
	g.Heads = slices.Delete(g.Heads, at, at+1)
	for i := range g.Rows {
		g.Rows[i].Cells = slices.Delete(g.Rows[i].Cells, at, at+1)
	}
}

func batteryGrid(s *fleet.Summary) *grid {
	if len(s.Battery) == 0 {
		return nil
	}
	g := &grid{
		ID: "batteries", Verdicts: true,
		Caption: "Resistance learnt from how the voltage follows the current, against the bike profile’s value and against the fleet’s median. Cold packs read higher.",
		Heads:   []head{{"Bike", text, 0}, {"Resistance, times the profile’s", spread, 2}, {"Times the fleet’s", number, 2}, {"Verdict", text, 0}},
	}
	for _, b := range s.Battery {
		g.Rows = append(g.Rows, gridRow{Cells: []any{b.Bike, ranged(b.Ratio), b.OfFleet, b.Verdict.String()}, Out: b.Verdict == fleet.StandsOut, Little: b.Verdict == fleet.TooLittle})
		if g.mark == 0 && b.OfFleet > 0 {
			g.mark = b.Ratio.Value / b.OfFleet
		}
	}
	g.scale()
	return g
}

func heatGrid(s *fleet.Summary) *grid {
	if len(s.Heat) == 0 {
		return nil
	}
	g := &grid{
		ID: "heat", Verdicts: true,
		Caption: "Modelled temperature of the winding; the limit is that of its insulation by the bike profile.",
		Heads:   []head{{"Bike", text, 0}, {"Peak, °C", number, 0}, {"Limit, °C", number, 0}, {"Over the limit, min", number, 1}, {"Verdict", text, 0}},
	}
	for _, h := range s.Heat {
		says := "within its limit"
		if h.OverLimit > 0 {
			says = "over its limit"
		}
		g.Rows = append(g.Rows, gridRow{Cells: []any{h.Bike, h.PeakC, h.LimitC, float64(h.OverLimit) / 60, says}, Out: h.OverLimit > 0})
	}
	return g
}

func groupGrid(s *fleet.Summary) *grid {
	if len(s.Groups) == 0 {
		return nil
	}
	g := &grid{
		ID: "groups", Verdicts: true, mark: s.Fleet.LossPerKm.Value,
		Caption: "Depots or teams, as the map names them.",
		Heads: []head{{"Depot or team", text, 0}, {"Lost, Wh/km", spread, lossDigits(s)}, {"Lugging, %", number, 1}, {"Legs lugging, %", number, 0}, {"Bikes", number, 0}, {"Riders", number, 0},
			{"Rides", number, 0}, {"km", number, 0}, {"Saved by the plan in 30 days, Wh", number, 0}, {"Full batteries", number, 2}},
	}
	for _, l := range s.Groups {
		g.Rows = append(g.Rows, gridRow{
			Cells: []any{l.Name, ranged(l.LossPerKm), 100 * l.LuggingShare, 100 * l.LegsShare, float64(l.Bikes), float64(l.Riders), float64(l.Rides), l.Km, l.Worth.PlanWh, l.Worth.Charges},
			Out:   l.Verdict == fleet.StandsOut,
		})
	}
	g.scale()
	return g
}

func habitGrid(s *fleet.Summary) *grid {
	if len(s.Habits) == 0 {
		return nil
	}
	g := &grid{
		ID:      "habits",
		Caption: "What the rideable plan of gears would have saved while each habit lasted. One second may belong to several, so that the costs do not add up.",
		Heads:   []head{{"Habit", text, 0}, {"Cost, Wh", number, 1}, {"Wh in 100 km", number, 1}, {"Times", number, 0}, {"Of the times it could, %", number, 0}, {"Rides with it", number, 0}, {"Bikes with it", number, 0}},
	}
	for _, h := range s.Habits {
		g.Rows = append(g.Rows, gridRow{Cells: []any{h.Kind, h.CostWh, 100 * fleet.Share(h.CostWh, s.All.Km), float64(h.Count), 100 * fleet.Share(float64(h.Count), float64(h.Opportunities)), float64(h.Rides), float64(h.Bikes)}})
	}
	return g
}

// mostPlaces is how many places are listed and drawn.
const mostPlaces = 200

func placeGrid(s *fleet.Summary) *grid {
	if len(s.Places) == 0 {
		return nil
	}
	g := &grid{
		ID: "places", Verdicts: true,
		Caption: "Stretches of road: cells of the map, some 140 m across, joined where they touch and are ridden the same way. Stands out: far above the other stretches, and at least three times what is typical. Numbers are those of the drawing.",
		Heads: []head{{"#", number, 0}, {"Heading", text, 0}, {"Where", text, 0}, {"Lost, Wh", number, 1}, {"Stretches", number, 0}, {"Lugging, min", number, 1}, {"Grade, %", number, 1},
			{"Bikes, at least", number, 0}, {"Verdict", text, 0}},
	}
	for i, p := range s.Places[:min(len(s.Places), mostPlaces)] {
		g.Rows = append(g.Rows, gridRow{
			Cells: []any{float64(i + 1), fleet.DirectionName(p.Direction), fmt.Sprintf("%.4f, %.4f", p.Lat, p.Lon), p.LossWh, float64(p.Stretches), float64(p.Seconds) / 60, 100 * p.Grade, float64(p.Bikes), p.Verdict.String()},
			Out:   p.Verdict == fleet.StandsOut,
		})
	}
	return g
}

func problemGrid(s *fleet.Summary) *grid {
	if len(s.Problems)+len(s.Doubles) == 0 {
		return nil
	}
	g := &grid{ID: "problems", Caption: "Each log that could not be used or is not counted, and why.", Heads: []head{{"Log", text, 0}, {"Why", text, 0}}}
	for _, p := range s.Problems {
		g.Rows = append(g.Rows, gridRow{Cells: []any{p.Path, p.Text}})
	}
	if s.Options.Private {
		return g // the names of logs are not shown
	}
	for _, d := range s.Doubles {
		g.Rows = append(g.Rows, gridRow{Cells: []any{d.Path, "The same ride on the same bike is counted from " + d.Of + ". If this log holds channels that the other lacks, join the two in one file."}})
	}
	return g
}
