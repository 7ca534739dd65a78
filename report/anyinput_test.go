package report_test

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/made"
	"cogledger/analysis/trend"
	"cogledger/ingest/ride"
	"cogledger/report"
	"cogledger/report/coach"
)

// noNumber finds what JavaScript, JSON, SVG and Go call no number.
var noNumber = regexp.MustCompile(`(?:^|[^A-Za-z0-9.])([+-]?(?:NaN|Inf(?:inity)?)|%!\w)(?:[^A-Za-z]|$)`)

// No page, drawing, table, document or line of the terminal holds a number that
// is none, with the chart script and without, whatever the channels of one or
// two rides do: each is left as it is, lost, holed, turned over, scaled, held
// still, or thrown anywhere within what a sensor may say.
func TestNoNumberThatIsNone(t *testing.T) {
	bikes := manyBikes(t)
	rapid.Check(t, func(t *rapid.T) {
		p := bikes[rapid.IntRange(0, len(bikes)-1).Draw(t, "bike")]
		quick := analysis.Options{SkipDoubt: rapid.IntRange(0, 3).Draw(t, "intervals") > 0, SkipReplays: rapid.IntRange(0, 3).Draw(t, "replays") > 0}
		var results []*analysis.Result
		for k := range rapid.IntRange(1, 2).Draw(t, "rides") {
			r, err := drawnTrack(t, uint64(k)).Ride()
			if err != nil {
				continue // nothing is left of the log
			}
			res, err := analysis.Review(r, p, quick)
			if err != nil {
				t.Fatal(err)
			}
			results = append(results, res)
		}
		if len(results) > 0 {
			allOutputs(t, results, report.Options{Privacy: rapid.Bool().Draw(t, "privacy"), Imperial: rapid.Bool().Draw(t, "imperial")})
		}
	})
}

// A current clamp put on the wrong way round, in both rides of a set.
func TestReversedCurrentInTwoRides(t *testing.T) {
	var results []*analysis.Result
	for seed := range uint64(2) {
		track := shortTrack(seed)
		for i := range track.Values[ride.BatteryAmps] {
			track.Values[ride.BatteryAmps][i] *= -1
		}
		r, err := track.Ride()
		if err != nil {
			t.Fatal(err)
		}
		res, err := analysis.Review(r, bike.Example(), analysis.Options{})
		if err != nil {
			t.Fatal(err)
		}
		results = append(results, res)
	}
	allOutputs(t, results, report.Options{})
}

// manyBikes are a bike with a motor at the cranks, one with a motor in the wheel,
// one with a gear hub and one of which next to nothing is told.
func manyBikes(t *testing.T) []*bike.Profile {
	all := []*bike.Profile{bike.Example()}
	for _, text := range []string{
		"name: wheel\nwheel: {tyre: 47-622}\ndrivetrain: {chainrings: [42], cogs: [11, 13, 15, 18, 21, 24, 28]}\ndrive: {kind: hub, turns_per_wheel: 5}\nbattery: {nominal_v: 36, capacity_wh: 400, resistance_ohm: 0.1}\n",
		"name: hub\nwheel: {tyre: 47-622}\ndrivetrain: {chainrings: [42], cogs: [19], hub_gears: [0.53, 0.68, 0.85, 1, 1.18, 1.47, 1.85]}\ndrive: {kind: mid, turns_per_crank: 36}\nbattery: {nominal_v: 36, capacity_wh: 400, resistance_ohm: 0.1}\n",
		"name: a\nwheel: {rollout_mm: 800}\ndrivetrain: {chainrings: [80], cogs: [7]}\ndrive: {kind: hub, turns_per_wheel: 0.01}\nbattery: {nominal_v: 10, capacity_wh: 20, resistance_ohm: 0.1}\n",
	} {
		p, err := bike.Parse([]byte(text), "bike.yaml")
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, p)
	}
	return all
}

// shortTrack is a made ride of some two minutes.
func shortTrack(seed uint64) *ride.Track {
	return made.Simulate(bike.Example(), made.Errand(made.CoastRoad(), 5, 2), made.Lugger(), seed+1).Tracks[0]
}

// drawnTrack is a made ride with channels that something has happened to.
func drawnTrack(t *rapid.T, seed uint64) *ride.Track {
	track := shortTrack(seed)
	n := min(len(track.Time), rapid.IntRange(3, 240).Draw(t, "samples"))
	track.Time = track.Time[:n]
	for c := range track.Values {
		channel, column := ride.Channel(c), track.Values[c]
		low, high := channel.Plausible()
		if column == nil {
			if rapid.IntRange(0, 5).Draw(t, "added "+channel.String()) > 0 {
				continue
			}
			column = make([]float64, n)
			for i := range column {
				column[i] = low + (high-low)*rapid.Float64Range(0, 1).Draw(t, "value")
			}
		}
		column = column[:n]
		switch what := rapid.SampledFrom([]string{"kept", "kept", "kept", "lost", "holed", "turned over", "scaled", "held", "at its ends", "anything"}).Draw(t, channel.String()); what {
		case "lost":
			column = nil
		case "holed":
			from := rapid.IntRange(0, n-1).Draw(t, "from")
			for i := from; i < rapid.IntRange(from, n).Draw(t, "to"); i++ {
				column[i] = math.NaN()
			}
		case "turned over":
			each(column, func(v float64) float64 { return -v })
		case "scaled":
			by := rapid.SampledFrom([]float64{0, 1e-12, 1e-3, 30, 1e6, 1e300}).Draw(t, "factor")
			each(column, func(v float64) float64 { return v * by })
		case "held":
			v := rapid.Float64Range(low, high).Draw(t, "at")
			each(column, func(float64) float64 { return v })
		case "at its ends":
			for i := range column {
				column[i] = []float64{low, high}[rapid.IntRange(0, 1).Draw(t, "end")]
			}
		case "anything":
			for i := range column {
				column[i] = rapid.OneOf(rapid.Float64Range(low, high), rapid.Float64()).Draw(t, "value")
			}
		}
		track.Values[c] = column
	}
	return track
}

func each(column []float64, f func(float64) float64) {
	for i, v := range column {
		column[i] = f(v)
	}
}

type failing interface {
	Helper()
	Errorf(string, ...any)
	Fatalf(string, ...any)
}

// allOutputs writes all that can be written about the rides and looks through it.
func allOutputs(t failing, results []*analysis.Result, o report.Options) {
	t.Helper()
	set := analysis.Together(results)
	look := func(name, text string) {
		if at := noNumber.FindStringIndex(text); at != nil {
			t.Errorf("%s: %q", name, text[max(0, at[0]-160):min(len(text), at[1]+60)])
		}
	}
	fill := func(name string, write func(io.Writer) error) {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		look(name, strings.Replace(b.String(), report.StartScript(), "", 1))
	}
	for _, library := range []string{"", "/* library */"} {
		fill(fmt.Sprintf("page, script %q", library), func(w io.Writer) error { return report.WritePage(w, set, o, library) })
	}
	fill("JSON", func(w io.Writer) error { return report.JSON(w, set, o) })
	fill("summary", func(w io.Writer) error { return report.Summary(w, set, o) })
	if err := report.CSV(set, o, func(name string, write func(io.Writer) error) error { fill(name, write); return nil }); err != nil {
		t.Fatalf("tables: %v", err)
	}
	c := analysis.Compare(results[:1], results[1:], trend.Options{})
	for _, c := range []*trend.Comparison{nil, &c} {
		fill("coach", func(w io.Writer) error { return coach.HTML(w, set, c, coach.Options{Imperial: o.Imperial}) })
	}
}
