package report_test

import (
	"bytes"
	"math"
	"strconv"
	"strings"
	"testing"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/made"
	"cogledger/ingest/ride"
	"cogledger/report"
	"cogledger/report/coach"
)

// Page, terminal, JSON and coach tell the same of the same rides: whether advice
// is given at all, and each figure that more than one of them shows.
func TestOutputsAgree(t *testing.T) {
	adrift := func(track *ride.Track) { // cadence fits no gear for long
		for i, rpm := range track.Values[ride.CadenceRPM] {
			track.Values[ride.CadenceRPM][i] = math.Round(rpm * (1 + 0.3*math.Sin(float64(i)/2)))
		}
		track.Values[ride.MotorRPM] = nil
	}
	blind := func(track *ride.Track) { track.Values[ride.CadenceRPM], track.Values[ride.MotorRPM] = nil, nil }
	for _, c := range []struct {
		name   string
		bike   *bike.Profile
		rides  int
		change func(*ride.Track)
		advice bool
		loss   bool
	}{
		{"one rich log", bike.Example(), 1, nil, true, true},
		{"a week of rich logs", bike.Example(), 6, nil, true, true},
		{"most gears unknown", bike.Example(), 2, adrift, false, false},
		{"no cadence", bike.Example(), 1, blind, false, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			var rides []*analysis.Result
			for _, r := range made.Week(bike.Example(), made.Options{Seed: 1})[:c.rides] {
				if c.change != nil {
					c.change(r.Tracks[0])
				}
				clocked, err := r.Tracks[0].Ride()
				if err != nil {
					t.Fatal(err)
				}
				res, err := analysis.Review(clocked, c.bike, analysis.Options{SkipReplays: true})
				if err != nil {
					t.Fatal(err)
				}
				rides = append(rides, res)
			}
			o := outputs(t, analysis.Together(rides))
			for place, given := range map[string]bool{
				"page":     strings.Contains(o.page, `<ol class="things">`),
				"terminal": strings.Contains(o.terminal, "1. "),
				"coach":    strings.Contains(o.coach, "<li>"),
				"JSON":     o.document.Totals.Bears.Advice.Given,
			} {
				if given != c.advice {
					t.Errorf("%s gives advice: %v, want %v", place, given, c.advice)
				}
			}
			loss := float64(o.document.Totals.LuggingLossWh.Value)
			if known := !math.IsNaN(loss); known != c.loss {
				t.Errorf("JSON knows the loss: %v, want %v", known, c.loss)
			}
			if shown := strings.Contains(row(o.terminal, "lost to lugging"), "Wh"); shown != c.loss {
				t.Errorf("the terminal shows the loss: %v, want %v", shown, c.loss)
			}
			for _, label := range []string{"battery", "lost to lugging", "hottest winding"} {
				value := strings.Join(strings.Fields(row(o.terminal, label))[:2], "\u00a0")
				if !strings.Contains(value, "known") && !strings.Contains(o.page, value) {
					t.Errorf("the terminal says %s %s, the page does not", label, value)
				}
			}
			for label, value := range map[string]report.Number{"battery": o.document.Totals.BatteryWh.Value, "lost to lugging": o.document.Totals.LuggingLossWh.Value} {
				said, err := strconv.ParseFloat(strings.Fields(row(o.terminal, label))[0], 64)
				if known := !math.IsNaN(float64(value)); known != (err == nil) || known && math.Abs(said-float64(value)) > 0.006*math.Abs(said)+0.05 {
					t.Errorf("%s: %v in JSON, %q in the terminal", label, value, row(o.terminal, label))
				}
			}
		})
	}
}

type written struct {
	page, coach, terminal string
	document              report.Document
}

func outputs(t *testing.T, set *analysis.Set) written {
	t.Helper()
	var page, card, terminal bytes.Buffer
	for _, err := range []error{
		report.HTML(&page, set, report.Options{}), coach.HTML(&card, set, nil, coach.Options{}),
		report.Summary(&terminal, set, report.Options{}),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	return written{page.String(), card.String(), terminal.String(), report.NewDocument(set, report.Options{})}
}

// row is what the terminal says beside a label.
func row(terminal, label string) string {
	_, rest, _ := strings.Cut(terminal, "\n"+label)
	line, _, _ := strings.Cut(rest, "\n")
	return line
}
