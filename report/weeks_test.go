package report

import (
	"math"
	"strings"
	"testing"
	"time"

	"cogledger/analysis/doubt"
	"cogledger/analysis/trend"
)

func sampleTrend() trend.Trend {
	week := func(day, rides int, lug, low, high float64) trend.Week {
		return trend.Week{
			Monday: time.Date(2026, 6, day, 0, 0, 0, 0, time.UTC), Group: trend.Group{Rides: rides, Distance: 42_000, Ascent: 310, WhPerKm: 7.4},
			Lugging: doubt.Figure{Value: lug, Low: low, High: high}, WhPerKm: doubt.Figure{Value: 7, Low: 6.9, High: 7.1},
		}
	}
	return trend.Trend{
		Weeks: []trend.Week{week(1, 5, 0.16, 0.14, 0.18), week(8, 1, 0.12, math.NaN(), math.NaN())},
		Latest: &trend.Comparison{Resamples: 4000, Changes: []trend.Change{
			{Key: trend.LuggingShare, Unit: "share", Difference: doubt.Figure{Value: -0.04, Low: -0.06, High: -0.02}, Margin: 0.02, Verdict: trend.Improved},
			{Key: trend.EnergyPerKm, Unit: "Wh/km", Difference: doubt.Figure{Value: 0.01, Low: -0.02, High: 0.03}, Margin: 0.07, Verdict: trend.NoChange},
			{Key: "some habit", Verdict: trend.Worse},
		}},
	}
}

func TestWeeks(t *testing.T) {
	p := weeks(sampleTrend(), newUnits(false), Options{})
	if len(p.Table.Rows) != 2 || len(p.Table.Rows[0].Cells) != len(p.Table.Columns) {
		t.Fatalf("table %+v", p.Table)
	}
	var cells []string
	for _, row := range p.Table.Rows {
		for _, c := range row.Cells {
			cells = append(cells, c.Text)
		}
	}
	text := strings.Join(cells, " | ")
	for _, want := range []string{"1 June 2026", "8 June 2026", "42.0", "16.0 (14.0 to 18.0)", "| 12.0"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in %s", want, text)
		}
	}
	if strings.Contains(text, "NaN") {
		t.Error(text)
	}
	for _, want := range []string{"time lugging improved by 4.0\u00a0points, between 2.0 and 6.0", "energy for the distance has not changed by more than 0.07"} {
		if !strings.Contains(p.Sentence, want) {
			t.Errorf("no %q in %q", want, p.Sentence)
		}
	}
	if private := weeks(sampleTrend(), newUnits(false), Options{Privacy: true}); private.Table.Rows[0].Cells[0].Text != "1" {
		t.Error("the date of the week is not left out")
	}
	if weeks(trend.Trend{}, newUnits(false), Options{}) != nil {
		t.Error("a part without weeks")
	}
}
