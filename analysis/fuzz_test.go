package analysis_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"regexp"
	"runtime/debug"
	"strings"
	"testing"
	"time"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/ledger"
	"cogledger/analysis/made"
	"cogledger/ingest"
	"cogledger/ingest/csvlog"
	"cogledger/ingest/fitlog"
	"cogledger/ingest/ride"
	"cogledger/report"
)

// FuzzReview takes the bytes of a log and of a bike profile the whole way to
// the JSON and the page. A profile that cannot be read gives way to the example.
func FuzzReview(f *testing.F) {
	for _, log := range smallLogs(f) {
		f.Add(log, bike.ExampleYAML())
	}
	f.Add([]byte("elapsed_s,speed_kmh\n0,20\n1,21\n21000,20\n21001,0\n"), []byte("name: a\nwheel: {rollout_mm: 800}\ndrivetrain: {chainrings: [80], cogs: [7]}\ndrive: {kind: hub, turns_per_wheel: 0.01}\nbattery: {nominal_v: 10, capacity_wh: 1}\n"))
	f.Add([]byte("elapsed_s,battery_current_a,battery_voltage_v\n0,500,200\n1,-200,1\n2,500,1\n"), bike.ExampleYAML())
	f.Fuzz(func(t *testing.T, log, profile []byte) {
		p, err := bike.Parse(profile, "bike.yaml")
		if err != nil {
			p = bike.Example()
		}
		within(t, 20*time.Second, func() { wholeWay(t, log, p) })
	})
}

// smallLogs are a made ride of three minutes in every form that is read, and of
// some channels alone.
func smallLogs(t testing.TB) [][]byte {
	t.Helper()
	r := made.Simulate(bike.Example(), made.Errand(made.CoastRoad(), 5, 3), made.Lugger(), 5)
	track := r.Tracks[0]
	var fit, table, speed, gpx, tcx bytes.Buffer
	if err := errors.Join(fitlog.Write(&fit, track), csvlog.Write(&table, track)); err != nil {
		t.Fatal(err)
	}
	speed.WriteString("elapsed_s;speed_kmh;altitude_m\n")
	gpx.WriteString(`<gpx version="1.1"><trk><trkseg>`)
	tcx.WriteString(`<TrainingCenterDatabase><Activities><Activity Sport="Biking"><Lap><Track>`)
	value := func(c ride.Channel, i int) float64 { return track.Values[c][i] }
	for i, at := range track.Time {
		stamp := track.Epoch.Add(time.Duration(at * 1e9)).UTC().Format(time.RFC3339)
		fmt.Fprintf(&speed, "%.0f;%.1f;%.1f\n", at, 3.6*value(ride.Speed, i), value(ride.Altitude, i))
		fmt.Fprintf(&gpx, `<trkpt lat="%.6f" lon="%.6f"><ele>%.1f</ele><time>%s</time><extensions><cad>%.0f</cad><power>%.0f</power></extensions></trkpt>`,
			value(ride.Latitude, i), value(ride.Longitude, i), value(ride.Altitude, i), stamp, value(ride.CadenceRPM, i), value(ride.RiderPower, i))
		fmt.Fprintf(&tcx, `<Trackpoint><Time>%s</Time><AltitudeMeters>%.1f</AltitudeMeters><Cadence>%.0f</Cadence><Extensions><TPX><Speed>%.2f</Speed><Watts>%.0f</Watts></TPX></Extensions></Trackpoint>`,
			stamp, value(ride.Altitude, i), value(ride.CadenceRPM, i), value(ride.Speed, i), value(ride.RiderPower, i))
	}
	gpx.WriteString("</trkseg></trk></gpx>")
	tcx.WriteString("</Track></Lap></Activity></Activities></TrainingCenterDatabase>")
	return [][]byte{fit.Bytes(), table.Bytes(), speed.Bytes(), gpx.Bytes(), tcx.Bytes()}
}

// wholeWay reads, reviews and reports, and holds each step to its promises.
func wholeWay(t *testing.T, log []byte, p *bike.Profile) {
	tracks, err := ingest.Read(log, "log.dat", ingest.Options{Limits: ingest.Limits{Bytes: 1 << 20}})
	if err != nil {
		if !strings.Contains(err.Error(), "log.dat") {
			t.Errorf("%v does not name the file", err)
		}
		return
	}
	var results []*analysis.Result
	for _, track := range tracks[:min(len(tracks), 2)] {
		r, err := track.Ride()
		if err != nil {
			if !errors.Is(err, ride.ErrEmpty) {
				t.Error(err)
			}
			continue
		}
		long := r.Len() > 3*3600 // of little to find and much to wait for
		res, err := analysis.Review(r, p, analysis.Options{SkipDoubt: long, SkipReplays: long})
		if err != nil {
			if r.Len() >= 2 || !strings.Contains(err.Error(), "log.dat") {
				t.Errorf("%d s are not reviewed: %v", r.Len(), err)
			}
			continue
		}
		sound(t, res)
		results = append(results, res)
	}
	if len(results) == 0 {
		return
	}
	if err := reports(analysis.Together(results)); err != nil {
		t.Error(err)
	}
}

// sound checks what a result promises: nothing infinite, shares within 0 and 1,
// intervals around their value, times that add up, books that close or a note.
func sound(t *testing.T, res *analysis.Result) {
	t.Helper()
	h := res.Headline
	for name, f := range figures(res) {
		if math.IsInf(f[0], 0) || math.IsInf(f[1], 0) || math.IsInf(f[2], 0) {
			t.Errorf("%s is infinite: %v", name, f)
		}
		if slack := 1e-9 * (1 + math.Abs(f[0])); f[1] > f[0]+slack || f[2] < f[0]-slack {
			t.Errorf("%s: %g is outside %g to %g", name, f[0], f[1], f[2])
		}
	}
	for name, share := range map[string]float64{"lugging": h.LuggingShare, "classed": h.ClassedShare} {
		if share < 0 || share > 1+1e-9 || math.IsInf(share, 0) {
			t.Errorf("share %s is %g", name, share)
		}
	}
	if h.Distance < 0 || math.IsInf(h.Distance, 0) || h.MovingSeconds > h.Seconds || h.Seconds > res.Ride.Len() {
		t.Errorf("headline %+v of %d s", h, res.Ride.Len())
	}
	for side, accounts := range map[string][]float64{"battery": wattHours(res.Books.Battery), "wheel": wattHours(res.Books.Wheel)} {
		for i, wh := range accounts {
			if math.IsNaN(wh) || math.IsInf(wh, 0) {
				t.Errorf("%s account %d holds %g Wh", side, i, wh)
			}
		}
	}
	for name, series := range map[string]any{"drive": res.Drive, "road": res.Road, "gears": res.Gears} {
		if at := infinite(series); at != "" {
			t.Errorf("%s.%s", name, at)
		}
	}
	if !res.Books.Closed() && !noted(res, "books do not close") {
		t.Errorf("books that do not close are not said: %g and %g Wh", res.Books.BatteryResidual, res.Books.WheelResidual)
	}
}

// infinite names the first value of a struct's columns that is infinite.
func infinite(series any) string {
	v := reflect.ValueOf(series).Elem()
	for i := range v.NumField() {
		if !v.Type().Field(i).IsExported() {
			continue
		}
		column, ok := v.Field(i).Interface().([]float64)
		if !ok {
			continue
		}
		for second, x := range column {
			if math.IsInf(x, 0) {
				return fmt.Sprintf("%s[%d] is %g", v.Type().Field(i).Name, second, x)
			}
		}
	}
	return ""
}

// figures are a result's figures by name, each as value, low and high.
func figures(res *analysis.Result) map[string][3]float64 {
	h := res.Headline
	named := map[string]doubt.Figure{
		"battery": h.BatteryWh, "rider": h.RiderWh, "a kilometre": h.WhPerKm, "lugging": h.LuggingLossWh,
		"range": h.RangeGainKm, "plan": h.PlanSavingWh, "winding": h.WindingPeakC,
	}
	for i, m := range res.Moments {
		named[fmt.Sprintf("moment %d", i)] = m.Saving
	}
	for _, habit := range res.Habits {
		named[fmt.Sprintf("habit %s", habit.Kind)] = habit.Cost
	}
	all := map[string][3]float64{}
	for name, f := range named {
		all[name] = [3]float64{f.Value, f.Low, f.High}
	}
	return all
}

func wattHours(accounts []ledger.Account) []float64 {
	wh := make([]float64, len(accounts))
	for i, a := range accounts {
		wh[i] = a.Wh
	}
	return wh
}

func noted(res *analysis.Result, text string) bool {
	for _, n := range res.Notes {
		if strings.Contains(n.String(), text) {
			return true
		}
	}
	return false
}

var notANumber = regexp.MustCompile(`\b(NaN|[+-]?Inf(inity)?|undefined)\b|%!\w`)

// reports writes JSON and page, and finds what neither may hold.
func reports(set *analysis.Set) error {
	var doc, page bytes.Buffer
	o := report.Options{Now: time.Unix(0, 0).UTC()}
	if err := report.JSON(&doc, set, o); err != nil {
		return fmt.Errorf("JSON: %w", err)
	}
	if !json.Valid(doc.Bytes()) {
		return errors.New("the JSON is not valid")
	}
	if err := report.HTML(&page, set, o); err != nil {
		return fmt.Errorf("page: %w", err)
	}
	if err := report.Summary(io.Discard, set, o); err != nil {
		return fmt.Errorf("summary: %w", err)
	}
	named := bytes.Contains(doc.Bytes(), []byte("NaN")) || bytes.Contains(doc.Bytes(), []byte("Inf")) // in a name: the JSON has numbers of its own
	shown, _, _ := bytes.Cut(page.Bytes(), []byte("<script>"))                                        // what follows is code
	if at := notANumber.FindIndex(shown); at != nil && !named {
		return fmt.Errorf("the page holds %q", shown[max(0, at[0]-40):min(len(shown), at[1]+20)])
	}
	return nil
}

// within fails the test when a call panics; see troubleOf for one without end.
func within(t *testing.T, limit time.Duration, call func()) {
	t.Helper()
	if trouble := troubleOf(limit, call); trouble != "" {
		t.Fatalf("panic: %s", trouble)
	}
}

// troubleOf is what a call panics with, and where, or nothing. It ends the
// program, with the stacks of all goroutines, when the call takes more than so
// much processor time, or twenty times that on the wall.
func troubleOf(limit time.Duration, call func()) string {
	done := make(chan string, 1)
	go func() {
		defer func() {
			if r := recover(); r != nil {
				done <- fmt.Sprintf("%v\n%s", r, debug.Stack())
			}
		}()
		call()
		done <- ""
	}()
	began, tick, wall := processorTime(), time.NewTicker(100*time.Millisecond), time.NewTimer(20*limit)
	defer tick.Stop()
	defer wall.Stop()
	for {
		select {
		case trouble := <-done:
			return trouble
		case <-tick.C:
			if took := processorTime() - began; took > limit {
				panic(fmt.Sprintf("no end after %v", took))
			}
		case <-wall.C:
			panic(fmt.Sprintf("no end after %v on the wall", 20*limit))
		}
	}
}
