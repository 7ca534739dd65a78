package gears_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
	"cogledger/ingest/ride"
)

// constantRide keeps one speed and cadence, with a little noise.
func constantRide(seconds int, speed, cadence float64) *ride.Ride {
	rng := rand.New(rand.NewPCG(1, 1))
	r := ride.New(seconds)
	v, c := make([]float64, seconds), make([]float64, seconds)
	for t := range seconds {
		v[t], c[t] = speed*(1+0.003*rng.NormFloat64()), cadence
	}
	r.SetColumn(ride.Speed, v, nil, ride.WheelSensor)
	r.SetColumn(ride.CadenceRPM, c, nil, ride.Device)
	return r
}

// TestArithmetic: 50/20 teeth at 80 rpm on 2200 mm make 26.40 km/h (arithmetic).
func TestArithmetic(t *testing.T) {
	p := profile(2200, []int{50}, []int{28, 25, 22, 20, 18, 16, 14, 12, 11})
	f, err := gears.Infer(constantRide(300, 26.40/3.6, 80), p, gears.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for s, g := range f.Index {
		if g < 0 || p.Gears()[g].String() != "50/20" {
			t.Fatalf("second %d: gear %d, want 50/20", s, g)
		}
	}
	if math.Abs(f.Circumference-2.2) > 0.005 || !f.CircumferenceFromRide || f.CircumferenceLow > 2.2 || f.CircumferenceHigh < 2.2 {
		t.Errorf("wheel %.4f m (%.4f to %.4f), want 2.2", f.Circumference, f.CircumferenceLow, f.CircumferenceHigh)
	}
	if f.NamedShare() != 1 || f.PedallingSeconds != 300 {
		t.Errorf("%d of %d pedalling seconds named", f.NamedSeconds, f.PedallingSeconds)
	}
}

// TestCircumference: the calibrated interval holds the true wheel about as
// often as it says. The generator draws the wheel within 1 % or so.
func TestCircumference(t *testing.T) {
	inside, n := 0, 40
	for seed := range uint64(n) {
		p := single()
		worn := 0.99 + 0.0005*float64(seed)
		truth := p.Circumference() * worn
		own := profile(1000*truth, p.Drivetrain.Chainrings, p.Drivetrain.Cogs)
		r, _ := madeRideOn(own, setups()["wheel sensor"], 900, seed)
		f, err := gears.Infer(r, p, gears.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if f.CircumferenceLow <= truth && truth <= f.CircumferenceHigh {
			inside++
		}
	}
	t.Logf("the 90 %% interval holds the true wheel in %d of %d rides", inside, n)
	if inside < n*3/4 {
		t.Errorf("the interval holds the true wheel in %d of %d rides only", inside, n)
	}
}

// TestMotorSpeed: the legs rest while the motor pushes; its speed tells the
// gear, which speed and cadence alone cannot.
func TestMotorSpeed(t *testing.T) {
	p := single()
	list := p.Gears()
	r := constantRide(400, 6, 75)
	speed, cadence, motor := make([]float64, 400), make([]float64, 400), make([]float64, 400)
	truth := make([]int, 400)
	for s := range speed {
		truth[s] = 3 + (s+40)/100 // changed while the legs rest
		cadence[s] = 75
		speed[s] = 75.0 / 60 * p.Circumference() * list[truth[s]].Ratio
		motor[s] = 75 * p.Drive.TurnsPerCrank
		if s%100 >= 20 {
			cadence[s] = 0
		}
	}
	r.SetColumn(ride.Speed, speed, nil, ride.WheelSensor)
	r.SetColumn(ride.CadenceRPM, cadence, nil, ride.Device)
	named := func(p *bike.Profile) (n, right int) {
		f, err := gears.Infer(r, p, gears.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for s, g := range f.Index {
			if g >= 0 {
				n++
				if g == truth[s] {
					right++
				}
			}
		}
		return n, right
	}
	_, without := named(p)
	legs, push := make([]float64, 400), make([]float64, 400)
	for s := range legs {
		legs[s], push[s] = 2*cadence[s], 150
	}
	r.SetColumn(ride.RiderPower, legs, nil, ride.Device)
	r.SetColumn(ride.MotorPower, push, nil, ride.Device)
	r.SetColumn(ride.MotorRPM, motor, nil, ride.Device)
	with, right := named(p)
	if with < 385 || right < with-4 || without > right-40 {
		t.Errorf("with the motor's speed %d s named, %d right; without it %d right", with, right, without)
	}
	other := *p
	other.Drive.TurnsPerCrank *= 1.06
	if f, err := gears.Infer(r, &other, gears.Options{}); err != nil || len(f.Notes) == 0 || !strings.Contains(f.Notes[0].Text, "36.0 times a crank turn") {
		t.Errorf("a wrong reduction: %v, notes %v", err, f.Notes)
	}
	hub := *p
	hub.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: 5}
	if _, right := named(&hub); right > without+4 {
		t.Errorf("a hub motor's speed is taken for the chainring's: %d s right, want %d", right, without)
	}
}

// TestRecordedShifts: reports that agree are evidence, and settle the ring
// where ratios cannot; reports of another cassette are shown and set aside.
func TestRecordedShifts(t *testing.T) {
	p := wideDouble()
	r, truth := madeRide(p, setups()["three, correlated"], 3600, 3)
	rungs := len(p.Drivetrain.Cogs)
	r.Shifts = nil
	for s, g := range truth {
		if s == 0 || g != truth[s-1] {
			// Two in one second: the last counts. Teeth are typed in wrongly.
			r.Shifts = append(r.Shifts,
				ride.RecordedShift{Second: float64(s), RearNumber: 1, FrontNumber: 1},
				ride.RecordedShift{Second: float64(s) + 0.5, RearNumber: g%rungs + 1, FrontNumber: g/rungs + 1, RearTeeth: 99, FrontTeeth: 21})
		}
	}
	score := func(o gears.Options) (f *gears.Inference, a tally) {
		f, err := gears.Infer(r, p, o)
		if err != nil {
			t.Fatal(err)
		}
		a.add(f, truth, rungs, func(i int) bool { return pedalling(r, i) })
		return f, a
	}
	plain, without := score(gears.Options{IgnoreRecorded: true})
	if plain.RecordedUsed || plain.Recorded == nil || plain.RecordedAgreement < 0.9 {
		t.Errorf("records ignored: used %v, shown %v, agreement %.2f", plain.RecordedUsed, plain.Recorded != nil, plain.RecordedAgreement)
	}
	told, with := score(gears.Options{})
	t.Logf("with records %s; without %s", with.String(), without.String())
	if with.named/with.all < 0.93 {
		t.Errorf("with records %.1f %% named", 100*with.named/with.all)
	}
	if !told.RecordedUsed || with.named < without.named || with.right/with.named < 0.985 {
		t.Errorf("with records (used %v) %s; without %s", told.RecordedUsed, with.String(), without.String())
	}
	for s, g := range told.Recorded {
		if g != truth[s] {
			t.Fatalf("second %d: recorded gear %d, want %d", s, g, truth[s])
		}
	}
	for i := range r.Shifts {
		r.Shifts[i].RearNumber = (r.Shifts[i].RearNumber+4)%rungs + 1
	}
	wrong, _ := score(gears.Options{})
	if wrong.RecordedUsed || len(wrong.Notes) == 0 || !strings.Contains(wrong.Notes[len(wrong.Notes)-1].Text, "shown, not used") {
		t.Errorf("records of another cassette: used %v, notes %v", wrong.RecordedUsed, wrong.Notes)
	}
}

// TestMismatch: profiles that are wrong in one thing, and what must be said.
func TestMismatch(t *testing.T) {
	s := setups()["wheel sensor"]
	for _, c := range []struct {
		name   string
		change func(p *bike.Profile)
		want   string // in the cure; empty: no note
	}{
		{"right profile", func(*bike.Profile) {}, ""},
		{"another tyre of the same size", func(p *bike.Profile) { p.Wheel.RolloutMM *= 1.015 }, ""},
		{"ring of 42 typed as 38", func(p *bike.Profile) { p.Drivetrain.Chainrings = []int{38} }, "chainring of 42 teeth"},
		{"another cassette", func(p *bike.Profile) {
			p.Drivetrain.Cogs = []int{46, 39, 33, 28, 25, 22, 19, 17, 14, 12, 11}
		}, "lacks [16 18 21 24]"},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, _ := madeRideOn(single(), s, 3600, 9)
			p := single()
			c.change(p)
			f, err := gears.Infer(r, p, gears.Options{})
			if err != nil {
				t.Fatal(err)
			}
			switch {
			case c.want == "" && len(f.Notes) > 0:
				t.Errorf("said %v of a profile that is right", f.Notes)
			case c.want != "" && (len(f.Notes) == 0 || !strings.Contains(f.Notes[0].Cure, c.want)):
				t.Errorf("said %v, want %q", f.Notes, c.want)
			}
		})
	}
}

// TestPoorRides: nothing to tell must be told as nothing.
func TestPoorRides(t *testing.T) {
	p := single()
	noCadence := constantRide(200, 6, 70)
	noCadence.SetColumn(ride.CadenceRPM, missing(200), nil, ride.Device)
	zeroCadence := constantRide(200, 6, 0)
	paused := constantRide(200, 6, 70)
	for s := range 200 {
		paused.SetPaused(s, true)
	}
	for name, r := range map[string]*ride.Ride{
		"no second": ride.New(0), "no channels": ride.New(50), "no cadence": noCadence,
		"cranks never turn": zeroCadence, "all paused": paused, "one second": constantRide(1, 6, 0),
	} {
		f, err := gears.Infer(r, p, gears.Options{})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for s, g := range f.Index {
			if g != gears.Unknown || f.Best[s] != gears.Unknown || f.Probability[s] != 0 {
				t.Errorf("%s: gear %d named, %d guessed at second %d", name, g, f.Best[s], s)
				break
			}
		}
		if f.CircumferenceFromRide || f.Circumference != p.Circumference() {
			t.Errorf("%s: wheel %.3f m taken from the ride", name, f.Circumference)
		}
		if len(f.Notes) == 0 {
			t.Errorf("%s: nothing said", name)
		}
	}
	if _, err := gears.Infer(constantRide(10, 6, 70), &bike.Profile{Name: "bare"}, gears.Options{}); err == nil {
		t.Error("a profile without gears passed")
	}
}

// TestAnyColumns: whatever the columns hold, no panic, no probability outside
// 0 to 1, no gear that the bike lacks.
func TestAnyColumns(t *testing.T) {
	odd := []float64{math.NaN(), math.Inf(1), math.Inf(-1), -5, 0, 1e-300, 1e300, 0.5, 6, 80}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 300).Draw(t, "seconds")
		r := ride.New(n)
		value := rapid.OneOf(rapid.SampledFrom(odd), rapid.Float64Range(0, 120))
		for _, c := range []ride.Channel{ride.Speed, ride.CadenceRPM, ride.RiderPower, ride.MotorRPM, ride.MotorPower} {
			if rapid.Bool().Draw(t, "has") {
				r.SetColumn(c, rapid.SliceOfN(value, n, n).Draw(t, "column"), nil, ride.Device)
			}
		}
		for range rapid.IntRange(0, 5).Draw(t, "shifts") {
			r.Shifts = append(r.Shifts, ride.RecordedShift{
				Second:      value.Draw(t, "second"),
				RearNumber:  rapid.IntRange(-1, 20).Draw(t, "number"),
				FrontNumber: rapid.IntRange(-1, 5).Draw(t, "front"),
				RearTeeth:   rapid.IntRange(0, 60).Draw(t, "teeth"),
			})
		}
		p := wideDouble()
		f, err := gears.Infer(r, p, gears.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for s := range n {
			if !(f.Probability[s] >= 0 && f.Probability[s] <= 1+1e-9) || !(f.Coupled[s] >= 0 && f.Coupled[s] <= 1+1e-9) {
				t.Fatalf("second %d: probability %g, coupled %g", s, f.Probability[s], f.Coupled[s])
			}
			if f.Index[s] < gears.Unknown || f.Index[s] >= len(p.Gears()) {
				t.Fatalf("second %d: gear %d", s, f.Index[s])
			}
		}
		if !(f.Circumference > 0) || math.IsNaN(f.Spread) || math.IsNaN(f.LagSeconds) {
			t.Fatalf("wheel %g, spread %g, lag %g", f.Circumference, f.Spread, f.LagSeconds)
		}
	})
}
