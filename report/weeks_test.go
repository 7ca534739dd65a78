package report

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"cogledger/analysis"
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

// weeksSet is two rides and a trend of two weeks.
func weeksSet() *analysis.Set {
	set := sampleSet(2, 240)
	set.Trend = sampleTrend()
	return set
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

// The document tells what the page tells, and no date in a private one.
func TestDocumentTrend(t *testing.T) {
	for _, private := range []bool{false, true} {
		d := documentTrend(sampleTrend(), Options{Privacy: private})
		if len(d.Weeks) != 2 || len(d.Changes) != 3 || d.Resamples != 4000 {
			t.Fatalf("%+v", d)
		}
		if w := d.Weeks[0]; (w.Monday == nil) != private || !private && *w.Monday != "2026-06-01" || w.LuggingShare.High != 0.18 || w.DistanceM != 42_000 {
			t.Errorf("private %v: %+v", private, w)
		}
		if c := d.Changes[0]; c.Verdict != "improved" || c.Difference.Low != -0.06 || c.Key != trend.LuggingShare {
			t.Errorf("%+v", c)
		}
		if text, err := json.Marshal(d); err != nil || strings.Contains(string(text), "NaN") || private && strings.Contains(string(text), "2026") {
			t.Errorf("%s, %v", text, err)
		}
	}
}
