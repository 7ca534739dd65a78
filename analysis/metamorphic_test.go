package analysis_test

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
	"cogledger/analysis/made"
	"cogledger/ingest/csvlog"
	"cogledger/ingest/ride"
)

// A subject is a ride, with the bike it is reviewed on, that the tests below
// change in ways of which the answer is known beforehand.
type subject struct {
	track *ride.Track
	bike  *bike.Profile
	was   *analysis.Result
}

// subjects are recorded rides, whose motor is modelled from the road, and a
// made one whose drive is logged.
func subjects(t *testing.T) []subject {
	t.Helper()
	all := []subject{}
	for _, track := range recorded(t) {
		b := roadBike(t)
		if track.Name == "WithGearChangeData.fit" { // on another bike hardly a second has a gear to compare
			b.Wheel = bike.Wheel{RolloutMM: 2138}
			b.Drivetrain = bike.Drivetrain{Chainrings: []int{40}, Cogs: []int{40, 35, 31, 27, 24, 21, 19, 17, 15, 13, 11}}
		}
		all = append(all, subject{track: track, bike: b})
	}
	simulated := made.Simulate(bike.Example(), made.Errand(made.CoastRoad(), 3, 20), made.Lugger(), 3)
	all = append(all, subject{track: simulated.Tracks[0], bike: bike.Example()})
	for i := range all {
		all[i].was = reviewedTrack(t, all[i].track, all[i].bike)
	}
	return all
}

func reviewedTrack(t *testing.T, track *ride.Track, p *bike.Profile) *analysis.Result {
	t.Helper()
	r, err := track.Ride()
	if err != nil {
		t.Fatal(err)
	}
	return reviewed(t, r, p)
}

// same fails unless two results say the same in everything but the time of day:
// every figure within a relative bound, every second in the same gear and class.
func same(t *testing.T, what string, was, is *analysis.Result, within float64) {
	t.Helper()
	if was.Ride.Len() != is.Ride.Len() {
		t.Errorf("%s: %d s became %d s", what, was.Ride.Len(), is.Ride.Len())
		return
	}
	others := figures(is)
	for name, a := range figures(was) {
		bound := within
		if strings.HasPrefix(name, "moment") {
			bound = 2 * within // a stretch of seconds shows undiluted what a ride evens out
		}
		if b := others[name]; !near(a[0], b[0], bound) {
			t.Errorf("%s: %s: %.12g became %.12g", what, name, a[0], b[0])
		}
	}
	if !near(was.Headline.Distance, is.Headline.Distance, within) || was.Headline.MovingSeconds != is.Headline.MovingSeconds || len(was.Moments) != len(is.Moments) {
		t.Errorf("%s: %+v became %+v", what, was.Headline, is.Headline)
	}
	for i := range was.Gears.Index {
		if was.Gears.Index[i] != is.Gears.Index[i] || was.Drive.Class[i] != is.Drive.Class[i] {
			t.Errorf("%s: second %d: gear %d, %v became gear %d, %v", what, i, was.Gears.Index[i], was.Drive.Class[i], is.Gears.Index[i], is.Drive.Class[i])
			return
		}
	}
	for i, a := range was.Books.Battery {
		if b := is.Books.Battery[i]; !near(a.Wh, b.Wh, within) && math.Abs(a.Wh-b.Wh) > 1e-9 {
			t.Errorf("%s: %s: %.12g became %.12g Wh", what, a.Name, a.Wh, b.Wh)
		}
	}
	for i, a := range was.Books.Wheel {
		if b := is.Books.Wheel[i]; !near(a.Wh, b.Wh, within) && math.Abs(a.Wh-b.Wh) > 1e-9 {
			t.Errorf("%s: %s: %.12g became %.12g Wh", what, a.Name, a.Wh, b.Wh)
		}
	}
}

// What changes nothing about a ride changes nothing in its review.
func TestWhatMustNotMatter(t *testing.T) {
	changes := []struct {
		what   string
		change func(*ride.Track)
		within float64
	}{
		{"a clock that is years off", func(t *ride.Track) { t.Epoch = t.Epoch.AddDate(-7, 3, 1).Add(12345 * time.Second) }, 0},
		{"samples counted from another moment", func(t *ride.Track) {
			const later = 4096.25
			t.Epoch = t.Epoch.Add(-time.Duration(later * 1e9))
			for i := range t.Time {
				t.Time[i] += later
			}
			for i := range t.Shifts {
				t.Shifts[i].Second += later
			}
		}, 0},
		{"a path mirrored east to west", func(t *ride.Track) { negate(t.Values[ride.Longitude]) }, 1e-9},
		{"a path mirrored north to south", func(t *ride.Track) { negate(t.Values[ride.Latitude]) }, 1e-9},
		{"a path a quarter round the earth", func(t *ride.Track) {
			for i, v := range t.Values[ride.Longitude] {
				t.Values[ride.Longitude][i] = math.Mod(v+90+540, 360) - 180
			}
		}, 1e-6},
		{"a device that writes each sample twice a second", func(t *ride.Track) { doubled(t, 0) }, 1e-9},
		{"samples in another order", func(t *ride.Track) {
			for i := 0; i+1 < len(t.Time); i += 97 { // neighbours swapped, as two threads of a device write them
				t.Time[i], t.Time[i+1] = t.Time[i+1], t.Time[i]
				for _, column := range t.Values {
					if column != nil {
						column[i], column[i+1] = column[i+1], column[i]
					}
				}
			}
		}, 1e-9},
	}
	for _, s := range subjects(t) {
		for _, c := range changes {
			changed := copied(s.track)
			c.change(changed)
			same(t, s.track.Name+": "+c.what, s.was, reviewedTrack(t, changed, s.bike), c.within)
		}
	}
}

func negate(column []float64) {
	for i := range column {
		column[i] = -column[i]
	}
}

// doubled writes every sample a second time, a little later: with the same
// values, or by share on the way to the next sample.
func doubled(t *ride.Track, share float64) {
	const later = 0.4375 // s; still nearest to the same second
	was := *copied(t)
	t.Time = t.Time[:0]
	for c := range t.Values {
		t.Values[c] = nil
	}
	for i, at := range was.Time {
		t.Sample(at)
		for c, column := range was.Values {
			if column != nil {
				t.Put(ride.Channel(c), column[i])
			}
		}
		if i+1 < len(was.Time) && was.Time[i+1]-at <= later {
			continue
		}
		t.Sample(at + later)
		for c, column := range was.Values {
			if column == nil {
				continue
			}
			v := column[i]
			if share > 0 && i+1 < len(was.Time) && was.Time[i+1]-at < 2 && ride.Channel(c) != ride.AssistLevel && !math.IsNaN(column[i+1]) {
				v += share * (column[i+1] - v)
			}
			t.Put(ride.Channel(c), v)
		}
	}
}

// What changes a ride a little changes its review a little, and what it does
// not touch not at all.
func TestWhatMayMatterALittle(t *testing.T) {
	for _, s := range subjects(t) {
		name := s.track.Name
		r, err := s.track.Ride()
		if err != nil {
			t.Fatal(err)
		}
		if s.was, err = analysis.Review(r, s.bike, analysis.Options{SkipReplays: true}); err != nil {
			t.Fatal(err)
		}
		h := s.was.Headline

		higher := copied(s.track)
		for i := range higher.Values[ride.Altitude] {
			higher.Values[ride.Altitude][i] += 100
		}
		if higher.Has(ride.Altitude) {
			res := reviewedTrack(t, higher, s.bike)
			if !near(res.Headline.Ascent, h.Ascent, 1e-6) || !near(res.Headline.RiderWh.Value, h.RiderWh.Value, 1e-9) || !near(res.Headline.Distance, h.Distance, 1e-9) {
				t.Errorf("%s: 100 m higher: %+v became %+v", name, h, res.Headline)
			}
			// ISO 2533: 100 m higher the air is thinner by 0.95 to 1.0 %, below 2,000 m.
			if was, is := accountWh(s.was, "air"), accountWh(res, "air"); was > 1 && (is/was < 0.985 || is/was > 0.995) {
				t.Errorf("%s: 100 m higher, air took %.3f Wh, then %.3f", name, was, is)
			}
			if was, is := accountWh(s.was, "rolling"), accountWh(res, "rolling"); !near(was, is, 1e-4) {
				t.Errorf("%s: 100 m higher, rolling took %.4f Wh, then %.4f", name, was, is)
			}
		}

		between := copied(s.track)
		doubled(between, 0.4375)
		alike(t, name+": twice the samples, read off between", s.was, reviewedTrack(t, between, s.bike), 0.01, 0.01)

		sparse := copied(s.track)
		dropped(sparse, 0.05, 11)
		alike(t, name+": without 5 % of the samples", s.was, reviewedTrack(t, sparse, s.bike), 0.01, 0.01)
	}
}

// dropped leaves out a share of the samples, drawn by lot.
func dropped(t *ride.Track, share float64, seed uint64) {
	draw := rand.New(rand.NewPCG(seed, 1))
	was := *copied(t)
	t.Time = t.Time[:0]
	for c := range t.Values {
		t.Values[c] = t.Values[c][:0]
	}
	for i, at := range was.Time {
		if i > 0 && i+1 < len(was.Time) && draw.Float64() < share {
			continue
		}
		t.Time = append(t.Time, at)
		for c, column := range was.Values {
			if column != nil {
				t.Values[c] = append(t.Values[c], column[i])
			}
		}
	}
}

// alike fails if sums differ by more than a share of them, or if more than a
// share of the seconds known both times changed gear, or a tenth their class.
func alike(t *testing.T, what string, was, is *analysis.Result, sums, seconds float64) {
	t.Helper()
	for name, pair := range map[string][2]float64{
		"distance": {was.Headline.Distance, is.Headline.Distance},
		"rider":    {was.Headline.RiderWh.Value, is.Headline.RiderWh.Value},
	} {
		if !near(pair[0], pair[1], sums) {
			t.Errorf("%s: %s: %.6g became %.6g", what, name, pair[0], pair[1])
		}
	}
	// What the battery gave is modelled on the recorded rides, from differences of
	// speed and height: it may move within what the review itself leaves open.
	if a, b := was.Headline.BatteryWh, is.Headline.BatteryWh.Value; !near(a.Value, b, sums) && !(b >= a.Low && b <= a.High) {
		t.Errorf("%s: battery: %+v became %.6g Wh", what, a, b)
	}
	known, other, moving, reclassed := 0.0, 0.0, 0.0, 0.0
	for i := range min(was.Ride.Len(), is.Ride.Len()) {
		if a, b := was.Gears.Index[i], is.Gears.Index[i]; a != gears.Unknown && b != gears.Unknown {
			known++
			if a != b {
				other++
			}
		}
		if !was.Ride.Paused(i) && !is.Ride.Paused(i) {
			moving++
			if was.Drive.Class[i] != is.Drive.Class[i] {
				reclassed++
			}
		}
	}
	t.Logf("%s: %.2f %% of %.0f s in another gear, %.2f %% in another class; battery %.4g -> %.4g Wh", what, 100*other/known, known, 100*reclassed/moving, was.Headline.BatteryWh.Value, is.Headline.BatteryWh.Value)
	if was.Gears.Mismatch.Found != is.Gears.Mismatch.Found {
		t.Errorf("%s: the drivetrain was another: %v, then %v", what, was.Gears.Mismatch.Found, is.Gears.Mismatch.Found)
	}
	if known < 100 && !was.Gears.Mismatch.Found || other > seconds*known || reclassed > 0.1*moving { // no gear is named of another drivetrain
		t.Errorf("%s: of %.0f s %.0f in another gear, of %.0f s %.0f in another class", what, known, other, moving, reclassed)
	}
}

func accountWh(res *analysis.Result, name string) float64 {
	for _, a := range append(res.Books.Wheel, res.Books.Battery...) {
		if a.Name == name {
			return a.Wh
		}
	}
	return math.NaN()
}

// A table in other units is the same ride. The factors are exact by definition
// (international yard and pound agreement, 1959; the Fahrenheit scale).
func TestUnitsDoNotMatter(t *testing.T) {
	metric := []string{"speed_mps", "distance_m", "cadence_rpm", "rider_power_w", "motor_power_w", "battery_voltage_v", "battery_current_a", "altitude_m", "air_temp_c"}
	other := []string{"speed_mph", "distance_mi", "cadence_rps", "rider_power_kw", "motor_power_kw", "battery_voltage_mv", "battery_current_ma", "altitude_ft", "air_temp_f"}
	channels := []ride.Channel{ride.Speed, ride.Distance, ride.CadenceRPM, ride.RiderPower, ride.MotorPower, ride.BatteryVolts, ride.BatteryAmps, ride.Altitude, ride.AirTemp}
	turn := []func(float64) float64{
		func(v float64) float64 { return v / 0.44704 }, func(v float64) float64 { return v / 1609.344 }, func(v float64) float64 { return v / 60 },
		func(v float64) float64 { return v / 1000 }, func(v float64) float64 { return v / 1000 }, func(v float64) float64 { return v * 1000 },
		func(v float64) float64 { return v * 1000 }, func(v float64) float64 { return v / 0.3048 }, func(v float64) float64 { return v*1.8 + 32 },
	}
	for _, s := range subjects(t) {
		var tables [2]bytes.Buffer
		fmt.Fprint(&tables[0], "elapsed_s")
		fmt.Fprint(&tables[1], "elapsed_ms")
		for k, c := range channels {
			if s.track.Has(c) {
				fmt.Fprintf(&tables[0], ",%s", metric[k])
				fmt.Fprintf(&tables[1], ";%s", other[k])
			}
		}
		for i, at := range s.track.Time {
			fmt.Fprintf(&tables[0], "\n%g", at)
			fmt.Fprintf(&tables[1], "\n%.0f", at*1000)
			for k, c := range channels {
				if !s.track.Has(c) {
					continue
				}
				plain, turned := "", ""
				if v := s.track.Values[c][i]; !math.IsNaN(v) {
					plain, turned = fmt.Sprintf("%.17g", v), string(bytes.ReplaceAll(fmt.Appendf(nil, "%.17g", turn[k](v)), []byte("."), []byte(",")))
				}
				fmt.Fprintf(&tables[0], ",%s", plain)
				fmt.Fprintf(&tables[1], ";%s", turned)
			}
		}
		var results [2]*analysis.Result
		for k := range tables {
			track, err := csvlog.Read(tables[k].Bytes(), "units.csv", csvlog.Options{})
			if err != nil {
				t.Fatal(err)
			}
			results[k] = reviewedTrack(t, track, s.bike)
		}
		// The last bits of a height in feet move the smoothed grade by more than
		// themselves, where the smoothing decides between two stretches; small savings
		// are differences and move by most.
		same(t, s.track.Name+": other units, decimal comma, semicolons", results[0], results[1], 2e-3)
	}
}
