package report

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/replay"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

// sampleDrive adds rule, fittings and starts to a result: round numbers that
// claim nothing about bikes.
func sampleDrive(res *analysis.Result) {
	for _, w := range []float64{100, 200, 350} {
		res.Rule = append(res.Rule, shifts.BandRow{ShaftW: w, Efficiency: 0.8, MotorLow: 1000 + w, MotorBest: 1500 + w, MotorHigh: 2500 + w,
			LowRPM: 30 + w/10, BestRPM: 45 + w/10, HighRPM: 70 + w/10, LowSpeed: math.NaN(), BestSpeed: math.NaN(), HighSpeed: math.NaN()})
	}
	res.Fittings = []replay.Fitting{
		{Name: "as fitted", Chainrings: []int{38}, Cogs: []int{11, 42}, BatteryWh: 110, HeldShare: 0.99, LegsOut: 0.06, Fitted: true},
		{Name: "chainring 34", Chainrings: []int{34}, Cogs: []int{11, 42}, BatteryWh: 106, SavingWh: 4, HeldShare: 1, LegsOut: 0.05},
		{Name: "chainring 36", Chainrings: []int{36}, Cogs: []int{11, 42}, BatteryWh: 109, SavingWh: 1, HeldShare: 1, LegsOut: 0.05},
	}
	for k, g := range res.Bike.Gears() {
		row := replay.LaunchRow{LaunchRun: replay.LaunchRun{Gear: g, Accel: 2 - 0.15*float64(k), PullN: 220 - 16*float64(k), To15: 3 + 0.4*float64(k), Metres: 7,
			Joules: 2500, CopperJ: 300 + 150*float64(k), Limit: drive.PhaseLimit, TopSpeed: 4.2}, RiddenTo15: math.NaN()}
		if k == 6 {
			row.Starts, row.RiddenTo15 = 3, 7.5
		}
		res.Starts = append(res.Starts, row)
	}
	res.Starts[len(res.Starts)-1].To15 = math.NaN()
}

// The powers of the sentence are the rows of the rule nearest to the median and
// the ninth decile of the loaded seconds.
func TestRuleSpeaksOfThePowersRidden(t *testing.T) {
	u := newUnits(false)
	set := func(watts ...float64) *view {
		res := &analysis.Result{Ride: ride.New(len(watts)), Bike: sampleBike(), Drive: &drive.Series{Shaft: watts, Class: make([]drive.Class, len(watts))}}
		sampleDrive(res)
		for i, w := range watts {
			res.Drive.Class[i] = drive.InBand
			if w < 15 {
				res.Drive.Class[i] = drive.Resting
			}
		}
		return views(&analysis.Set{Rides: []*analysis.Result{res}}, Options{})[0]
	}
	all := set(5, 5, 5, 5, 90, 90, 110, 110, 120, 95, 380, 0)
	r := all.rule(u)
	for _, want := range []string{"At about 100\u00a0W", "below 40\u00a0rpm", "near 55", "above 80", "At about 350\u00a0W", "65, 80 and 105\u00a0rpm"} {
		if r == nil || !strings.Contains(r.Sentence, want) {
			t.Fatalf("%q is not in %+v", want, r)
		}
	}
	if ridden := r.Table.Rows[0].Cells[1].Text; ridden != "0:06" {
		t.Errorf("%s ridden near 100 W, want 0:06", ridden)
	}
	if r := set(100, 100, 100).rule(u); strings.Contains(r.Sentence, "hardest") {
		t.Errorf("one power is told twice: %s", r.Sentence)
	}
	if r := set(5, 5).rule(u); r != nil {
		t.Errorf("a motor at rest has a rule: %+v", r)
	}
	hub := set(100, 100)
	for k := range hub.Rule {
		x := &hub.Rule[k]
		x.LowRPM, x.BestRPM, x.HighRPM, x.LowSpeed, x.BestSpeed, x.HighSpeed = math.NaN(), math.NaN(), math.NaN(), 3, 5, 7
	}
	if r := hub.rule(u); !strings.Contains(r.Sentence, "lugs below 10.8\u00a0km/h") || strings.Contains(r.Sentence, "legs") {
		t.Errorf("hub motor: %s", r.Sentence)
	}
}

// A fitting is shown from 1 % of the energy on, and only above what the plan's
// shifts are priced at.
func TestFittingsWorthTheirName(t *testing.T) {
	cases := []struct {
		reason string
		saving float64
		shifts int
		price  float64
		worth  bool
	}{
		{"1 %", 1.1, 0, 60, true},
		{"just under 1 %", math.Nextafter(1.1, 0), 0, 60, false},
		{"no more than the shifts cost", 1.9, 120, 60, false},
		{"what the shifts cost", 2, 120, 60, true},
		{"nothing", 0, 0, 0, false},
	}
	for _, c := range cases {
		res := sampleResult(240, 0)
		res.Fittings = res.Fittings[:2]
		res.Fittings[1].SavingWh, res.Plan.Shifts, res.Plan.PriceJ = c.saving, c.shifts, c.price
		f := views(one(res), Options{})[0].fittings(newUnits(false))
		if shown := f.Table != nil; shown != c.worth {
			t.Errorf("%s: shown %v", c.reason, shown)
		}
		if plain := strings.HasPrefix(f.Sentence, "No chainring or cassette"); plain == c.worth {
			t.Errorf("%s: %s", c.reason, f.Sentence)
		}
	}
}

func TestStartsAreCompared(t *testing.T) {
	v := views(one(sampleResult(240, 0)), Options{})[0]
	s := v.starts(newUnits(false))
	for _, want := range []string{"Of the 3 starts", "3 began in 38/18", "takes 5.4\u00a0s to 15\u00a0km/h", "38/42 takes 3.0\u00a0s"} {
		if !strings.Contains(s.Sentence, want) {
			t.Errorf("%q is not in %q", want, s.Sentence)
		}
	}
	if n := len(s.Table.Rows); n != len(sampleBike().Gears()) || s.Table.Rows[n-1].Cells[2].Text != "not reached" {
		t.Errorf("%d rows, the last %v", n, s.Table.Rows[n-1])
	}
	v.Starts[6].Starts = 0
	if s := v.starts(newUnits(false)); s.Sentence != "" {
		t.Errorf("no start was ridden: %s", s.Sentence)
	}
}

// The example bike reviewed for true: what the review found is in the page and
// in the document, gear by gear.
func TestDriveWordsReachPageAndDocument(t *testing.T) {
	res := sampleResult(900, 0)
	p := bike.Example()
	rows, err := launchesOf(p)
	if err != nil {
		t.Fatal(err)
	}
	res.Bike, res.Starts, res.Rule = p, rows, shifts.BandTable(p, []float64{50, 150, 250})
	var page, doc bytes.Buffer
	if err := writePage(&page, one(res), Options{}, ""); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Slow legs, shift down", "The best found among the sizes on sale: chainring 34", "Starts from a stand, gear by gear"} {
		if !strings.Contains(page.String(), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if err := JSON(&doc, one(res), Options{}); err != nil {
		t.Fatal(err)
	}
	var back struct {
		Rides []struct {
			Rule     []map[string]any
			Fittings []map[string]any
			Starts   []map[string]any
		}
	}
	if err := json.Unmarshal(doc.Bytes(), &back); err != nil {
		t.Fatal(err)
	}
	r := back.Rides[0]
	if len(r.Rule) != 3 || len(r.Fittings) != 3 || len(r.Starts) != len(p.Gears()) {
		t.Fatalf("%d rows of the rule, %d fittings, %d starts", len(r.Rule), len(r.Fittings), len(r.Starts))
	}
	if low, best := r.Rule[1]["cadence_low_rpm"].(float64), r.Rule[1]["cadence_best_rpm"].(float64); !(low > 0 && low < best) || r.Rule[1]["speed_low_mps"] != nil {
		t.Errorf("rule %v", r.Rule[1])
	}
	if r.Fittings[0]["fitted"] != true || r.Fittings[1]["worth"] != true || r.Fittings[2]["worth"] != false {
		t.Errorf("fittings %v", r.Fittings)
	}
}

func launchesOf(p *bike.Profile) ([]replay.LaunchRow, error) {
	var rows []replay.LaunchRow
	for _, g := range p.Gears() {
		run, err := replay.Launch(p, g, replay.LaunchOptions{})
		if err != nil {
			return nil, err
		}
		rows = append(rows, replay.LaunchRow{LaunchRun: run, RiddenTo15: math.NaN()})
	}
	return rows, nil
}
