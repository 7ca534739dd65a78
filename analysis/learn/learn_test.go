package learn_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/learn"
	"cogledger/analysis/made"
	"cogledger/analysis/road"
	"cogledger/ingest/ride"
)

// week makes the rides of a week on bike truth and reads them as view.
func week(t testing.TB, seed uint64, truth, view *bike.Profile) (rides []*ride.Ride, reads []learn.Read) {
	t.Helper()
	for _, m := range made.Week(truth, made.Options{Seed: seed}) {
		if len(m.Tracks) > 1 {
			continue
		}
		r, err := m.Tracks[0].Ride()
		if err != nil {
			t.Fatal(err)
		}
		rides = append(rides, r)
		reads = append(reads, read(t, r, view))
	}
	return rides, reads
}

func read(t testing.TB, r *ride.Ride, p *bike.Profile) learn.Read {
	t.Helper()
	inf, err := gears.Infer(r, p, gears.Options{})
	if err != nil {
		t.Fatal(err)
	}
	rd := road.Load(r, p, road.Options{})
	return learn.Read{Ride: r, Gears: inf, Road: rd, Drive: drive.Run(r, p, inf, rd, drive.Options{})}
}

func within(t *testing.T, what string, f doubt.Figure, truth, share float64) {
	t.Helper()
	if !(math.Abs(f.Value/truth-1) <= share) {
		t.Errorf("%s: learnt %.4g, true %.4g, more than %.0f %% off", what, f.Value, truth, 100*share)
	}
	if !(f.Low < f.Value && f.Value < f.High) {
		t.Errorf("%s: no interval: %+v", what, f)
	}
}

// Three made rides tell the battery's resistance within a tenth, whatever the
// profile says beforehand. The simulator's battery answers partly at once and
// partly within half a minute, and its resistance moves with charge.
func TestBatteryFromThreeRides(t *testing.T) {
	for _, ohm := range []float64{0.08, 0.11, 0.2} {
		for seed := range uint64(3) {
			p := bike.Example()
			truth := p.Scaled("battery.resistance_ohm", ohm/p.Battery.ResistanceOhm)
			rides, _ := week(t, seed, truth, p)
			f, err := learn.Battery(rides[:3], p)
			if err != nil {
				t.Fatal(err)
			}
			within(t, "battery resistance", f.Resistance, ohm, 0.1)
			within(t, "open-circuit voltage", f.OpenCircuit, 50, 0.1)
		}
	}
}

func TestBatteryRefusesWhatItCannotTell(t *testing.T) {
	p := bike.Example()
	flat := func(amps float64) *ride.Ride {
		random := rand.New(rand.NewPCG(1, 1))
		r := ride.New(600)
		v, a := make([]float64, 600), make([]float64, 600)
		for i := range v {
			v[i], a[i] = 48+0.05*random.NormFloat64(), 5+amps*random.NormFloat64()
		}
		r.SetColumn(ride.BatteryVolts, v, nil, ride.Device)
		r.SetColumn(ride.BatteryAmps, a, nil, ride.Device)
		return r
	}
	for name, r := range map[string]*ride.Ride{
		"no channels": ride.New(600), "steady current": flat(0.1), "volts that do not follow": flat(3), "a short ride": ride.New(3),
	} {
		if f, err := learn.Battery([]*ride.Ride{r}, p); !errors.Is(err, learn.ErrCannotTell) {
			t.Errorf("%s: %+v, %v", name, f, err)
		}
	}
	if _, err := learn.Battery(nil, p); !errors.Is(err, learn.ErrCannotTell) {
		t.Errorf("no rides: %v", err)
	}
}

// benchRide is a ride that tells the motor: three levels of assistance, slow
// and fast cadence under weak and strong pushes, and at the end a spin in the
// lowest gear until the battery's voltage runs out. The rider's torque is read
// with 1.5 % of noise.
func benchRide(truth *bike.Profile) *ride.Ride {
	const seconds = 3600
	random := rand.New(rand.NewPCG(3, 9))
	u := drive.NewUnit(truth)
	gear := truth.Gears()[len(truth.Gears())/2]
	r := ride.New(seconds)
	column := func() []float64 { return make([]float64, seconds) }
	speed, cadence, legs, volts, amps, rpm, level, height := column(), column(), column(), column(), column(), column(), column(), column()
	factors := []float64{0.6, 1.2, 2}
	torque, turn, k := 20.0, 70.0, 0
	nodes := drive.NewNodes(truth.Thermal, 1)
	winding, housing := truth.Thermal.AmbientC, truth.Thermal.AmbientC
	for i := range speed {
		if i%25 == 0 {
			torque, k = 8+30*random.Float64(), random.IntN(3)
			turn = 32 + 75*random.Float64()
			if i > seconds-400 {
				turn, torque, k = 122+18*random.Float64(), 14+10*random.Float64(), 2
			}
		}
		cadence[i] = math.Round(turn)
		w := u.SpeedAtCadence(turn)
		pt := u.AtTorque(w, factors[k]*torque/(36*u.Reduction), winding, 49)
		if most := u.Most(w, winding, 49); most.Amps < pt.Amps {
			pt = most
		}
		if pt.Shaft <= 0 {
			pt = u.Off(u.Fixed, 49)
		}
		winding, housing = nodes.Step(winding, housing, pt.Copper, pt.Drag, truth.Thermal.AmbientC)
		legs[i] = math.Round(torque * turn * 2 * math.Pi / 60 * (1 + 0.015*random.NormFloat64()))
		volts[i], amps[i] = pt.BatteryVolts, pt.BatteryAmps
		rpm[i] = math.Round(w * 60 / (2 * math.Pi))
		level[i] = float64(k + 1)
		speed[i] = min(turn/60*truth.Circumference()*gear.Ratio, 6)
		height[i] = 20
	}
	for c, x := range map[ride.Channel][]float64{
		ride.Speed: speed, ride.CadenceRPM: cadence, ride.RiderPower: legs, ride.BatteryVolts: volts, ride.BatteryAmps: amps,
		ride.MotorRPM: rpm, ride.AssistLevel: level, ride.Altitude: height,
	} {
		r.SetColumn(c, x, nil, ride.Device)
	}
	return r
}

func TestMotorFromARideThatTellsIt(t *testing.T) {
	view := bike.Example()
	for _, off := range []struct{ k, ohm float64 }{{1, 1}, {1.04, 0.9}, {0.96, 1.1}} {
		truth := view.Scaled("motor.torque_constant_nm_per_a", off.k).Scaled("motor.resistance_ohm", off.ohm)
		r := benchRide(truth)
		inf := &gears.Inference{Circumference: view.Circumference()}
		g := len(view.Gears()) / 2
		for range r.Len() {
			inf.Index, inf.Best = append(inf.Index, g), append(inf.Best, g)
			inf.Coupled, inf.Probability = append(inf.Coupled, 1), append(inf.Probability, 1)
		}
		rd := road.Load(r, view, road.Options{})
		f, err := learn.Motor([]learn.Read{{Ride: r, Gears: inf, Road: rd, Drive: drive.Run(r, view, inf, rd, drive.Options{})}}, view)
		if err != nil {
			t.Fatal(err)
		}
		if !f.ConstantTold {
			t.Error("the spin did not tell the torque constant")
		}
		t.Logf("%+.4v", f)
		within(t, "motor constant", f.MotorConstant, truth.Motor.TorqueConstant/math.Sqrt(truth.Motor.ResistanceOhm), 0.03)
		within(t, "torque constant", f.TorqueConstant, truth.Motor.TorqueConstant, 0.03)
		within(t, "resistance", f.Resistance, truth.Motor.ResistanceOhm, 0.1)
	}
}

// Everyday rides never reach the end of the battery's voltage, and their few
// cadences hardly tell copper loss from work: better no answer than a wrong one.
func TestMotorIsRefusedOrRightOnEverydayRides(t *testing.T) {
	view := bike.Example()
	truth := view.Scaled("motor.resistance_ohm", 1.1)
	constant := truth.Motor.TorqueConstant / math.Sqrt(truth.Motor.ResistanceOhm)
	for seed := range uint64(3) {
		_, reads := week(t, seed, truth, view)
		f, err := learn.Motor(reads, view)
		switch {
		case errors.Is(err, learn.ErrCannotTell):
		case err != nil:
			t.Fatal(err)
		case f.ConstantTold:
			t.Errorf("torque constant %+v from rides without a spin", f.TorqueConstant)
		case f.MotorConstant.Low > constant || f.MotorConstant.High < constant:
			t.Errorf("motor constant %+v, true %.4f", f.MotorConstant, constant)
		}
	}
	hub := bike.Example()
	hub.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: 5}
	if _, err := learn.Motor(nil, hub); !errors.Is(err, learn.ErrCannotTell) {
		t.Errorf("hub: %v", err)
	}
	if _, err := learn.Motor(nil, view); !errors.Is(err, learn.ErrCannotTell) {
		t.Errorf("no rides: %v", err)
	}
}

// drawnWithin draws the numbers that a learning ride tells from their
// tolerances, cut off at two standard deviations.
func drawnWithin(p *bike.Profile, seed uint64) *bike.Profile {
	told := map[string]bool{
		"battery.resistance_ohm": true, "road.cda_m2": true, "road.crr": true, "motor.torque_constant_nm_per_a": true,
		"motor.resistance_ohm": true, "motor.coulomb_torque_nm": true, "motor.viscous_nm_per_rad_s": true,
	}
	draw := rand.New(rand.NewPCG(seed, 5))
	for _, x := range p.Tolerances() {
		if told[x.Key] {
			p = p.Scaled(x.Key, 1+x.Fraction/1.645*max(-2, min(2, draw.NormFloat64())))
		}
	}
	return p
}

// Three learning rides on a bike drawn from the profile's tolerances tell its
// motor constant and torque constant within 3 %, resistances of motor and
// battery within 10 %, and the road load at 25 km/h within 5 %. The truth is
// the simulator's, which knows torque that swings, magnets and grease that warm,
// a battery that sags slowly, gusts, and meters that are off.
//
// A motor constant far enough below the profile's needs more turns than the
// made rider's legs have to run out of voltage: then torque constant and
// resistance must be left as not told, and k/sqrt(R) still be right.
func TestEverythingFromThreeLearningRides(t *testing.T) {
	view := bike.Example()
	seeds := 8
	if testing.Short() {
		seeds = 2
	}
	told := 0
	for seed := uint64(100); seed < uint64(100+seeds); seed++ {
		truth := drawnWithin(view, seed)
		var reads []learn.Read
		for _, m := range made.LearningRides(truth, seed, 3) {
			r, err := m.Tracks[0].Ride()
			if err != nil {
				t.Fatal(err)
			}
			reads = append(reads, read(t, r, view))
		}
		f := learn.All(reads, view)
		p := f.Apply(view)
		constantTold := slices.ContainsFunc(f.Learnt, func(x learn.Finding) bool { return x.Key == "motor.torque_constant_nm_per_a" })
		for _, err := range f.Refused {
			if constantTold || !strings.Contains(err.Error(), "torque constant") {
				t.Errorf("seed %d: %v", seed, err)
			}
		}
		close := func(what string, got, want, share float64) {
			t.Helper()
			t.Logf("seed %d: %s %+.1f %%", seed, what, 100*(got/want-1))
			if !(math.Abs(got/want-1) <= share) {
				t.Errorf("seed %d: %s learnt as %.4g, true %.4g, more than %.0f %% off", seed, what, got, want, 100*share)
			}
		}
		constant := func(m bike.Motor) float64 { return m.TorqueConstant / math.Sqrt(m.ResistanceOhm) }
		close("motor constant", constant(p.Motor), constant(truth.Motor), 0.03)
		if constantTold {
			told++
			close("torque constant", p.Motor.TorqueConstant, truth.Motor.TorqueConstant, 0.03)
			close("motor resistance", p.Motor.ResistanceOhm, truth.Motor.ResistanceOhm, 0.1)
		} else if truth.Motor.TorqueConstant > 0.985*view.Motor.TorqueConstant {
			t.Errorf("seed %d: the spin did not tell a torque constant of %.4f", seed, truth.Motor.TorqueConstant)
		}
		close("battery resistance", p.Battery.ResistanceOhm, truth.Battery.ResistanceOhm, 0.1)
		close("load at 25 km/h", f.LoadAt25.Value, loadAt25(truth, 1), 0.05)
		for _, x := range f.Learnt {
			if !(x.Figure.Low < x.Figure.Value && x.Figure.Value < x.Figure.High) {
				t.Errorf("seed %d: %s has no interval: %+v", seed, x.Key, x.Figure)
			}
		}
	}
	if told < seeds*3/4 {
		t.Errorf("only %d of %d bikes were told their torque constant", told, seeds)
	}
}

// rougher is the mean rolling resistance of the made road over the profile's: a
// part of it is setts and gravel.
const rougher = 1.065

// loadAt25 is air and rolling in W at 25 km/h in standard air.
func loadAt25(p *bike.Profile, rougher float64) float64 {
	const v = 25 / 3.6
	return 1.225/2*p.Road.CdA*v*v*v + p.Mass.Total()*9.80665*v*p.Road.Crr*rougher
}

// Three made rides, each with its own wind, tell the road load at 25 km/h and
// the wind itself. The load learnt is that of the roads ridden.
func TestDragFromThreeRides(t *testing.T) {
	view := bike.Example()
	held, asked := 0, 0
	for _, off := range []struct{ cda, crr float64 }{{1, 1}, {0.85, 1.2}, {1.15, 0.85}} {
		for seed := range uint64(3) {
			truth := view.Scaled("road.cda_m2", off.cda).Scaled("road.crr", off.crr)
			_, reads := week(t, seed, truth, view)
			f, err := learn.Drag(reads[:3], view)
			if err != nil {
				t.Fatal(err)
			}
			load := loadAt25(truth, rougher)
			t.Logf("load %.1f [%.1f, %.1f], true %.1f", f.LoadAt25.Value, f.LoadAt25.Low, f.LoadAt25.High, load)
			within(t, "load at 25 km/h", f.LoadAt25, load, 0.08)
			asked++
			if f.LoadAt25.Low <= load && load <= f.LoadAt25.High {
				held++
			}
		}
	}
	if held < asked-2 { // 90 % intervals: of nine, seven hold in 95 cases of a hundred
		t.Errorf("%d of %d intervals hold the truth", held, asked)
	}
}

func TestDragRefusesWithoutPowerOrHeight(t *testing.T) {
	view := bike.Example()
	rides, _ := week(t, 1, view, view)
	bare := ride.New(rides[0].Len())
	for _, c := range []ride.Channel{ride.Speed, ride.CadenceRPM, ride.RiderPower, ride.BatteryVolts, ride.BatteryAmps} {
		bare.SetColumn(c, rides[0].Column(c), nil, ride.Device)
	}
	if _, err := learn.Drag([]learn.Read{read(t, bare, view)}, view); !errors.Is(err, learn.ErrCannotTell) {
		t.Errorf("without altitude: %v", err)
	}
	if _, err := learn.Drag(nil, view); !errors.Is(err, learn.ErrCannotTell) {
		t.Errorf("no rides: %v", err)
	}
}

// freeRoll coasts down from 9 m/s on the flat by the equation of motion alone,
// again and again.
func freeRoll(p *bike.Profile, times int) *ride.Ride {
	e := road.Equation{Mass: p.Mass.Total(), CdA: p.Road.CdA, Crr: p.Road.Crr, Density: road.Density(101325, 20), Gravity: 9.806}
	var speed []float64
	for range times {
		for v := 9.0; v > 2; {
			speed = append(speed, v)
			for range 10 {
				v -= 0.1 * e.Steady(v, v, 0).Sum() / v / (e.Mass + 1.2)
			}
		}
		for v := 2.0; v < 9; v += 0.7 {
			speed = append(speed, v)
		}
	}
	n := len(speed)
	cadence, height := make([]float64, n), make([]float64, n)
	for i := 1; i < n; i++ {
		if speed[i] > speed[i-1] {
			cadence[i] = 60
		}
	}
	r := ride.New(n)
	r.SetColumn(ride.Speed, speed, nil, ride.WheelSensor)
	r.SetColumn(ride.CadenceRPM, cadence, nil, ride.Device)
	r.SetColumn(ride.Altitude, height, nil, ride.Device)
	return r
}

func TestCoastDownsAgainstTheEquationOfMotion(t *testing.T) {
	view := bike.Example()
	for _, factor := range []float64{0.8, 1, 1.3} {
		truth := view.Scaled("road.cda_m2", factor).Scaled("road.crr", factor)
		f, err := learn.CoastDowns([]learn.Read{read(t, freeRoll(truth, 6), view)})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(f.Ratio.Value/factor-1) > 0.03 {
			t.Errorf("ratio %+v, want %g of %d coasts", f.Ratio, factor, len(f.Coasts))
		}
	}
	if _, err := learn.CoastDowns([]learn.Read{read(t, freeRoll(view, 2), view)}); !errors.Is(err, learn.ErrCannotTell) {
		t.Errorf("two coasts: %v", err)
	}
}

// A profile with what was learnt is a sound profile and closer to the truth.
func TestFindingsMakeABetterProfile(t *testing.T) {
	view := bike.Example()
	truth := view.Scaled("battery.resistance_ohm", 1.5).Scaled("road.cda_m2", 1.2)
	_, reads := week(t, 2, truth, view)
	f := learn.All(reads, view)
	p := f.Apply(view)
	if problems := p.Check(); len(problems) > 0 {
		t.Fatal(problems)
	}
	if view.Battery.ResistanceOhm != 0.11 || view.Tolerance["battery.resistance_ohm"] != 0 {
		t.Error("the profile learnt from was changed")
	}
	if math.Abs(p.Battery.ResistanceOhm-truth.Battery.ResistanceOhm) > 0.1*truth.Battery.ResistanceOhm {
		t.Errorf("battery %g ohm, true %g", p.Battery.ResistanceOhm, truth.Battery.ResistanceOhm)
	}
	// Air and tyres are known better together than apart.
	if was, is, should := loadAt25(view, 1), loadAt25(p, 1), loadAt25(truth, rougher); math.Abs(is-should) > math.Abs(was-should)/3 {
		t.Errorf("load at 25 km/h %.1f W, true %.1f W, before %.1f W", is, should, was)
	}
	if tolerance := p.Tolerance["battery.resistance_ohm"]; !(tolerance > 0.005 && tolerance < 0.15) {
		t.Errorf("battery resistance learnt to ± %g", tolerance)
	}
	for _, err := range f.Refused {
		if !errors.Is(err, learn.ErrCannotTell) {
			t.Error(err)
		}
		t.Log(err)
	}
	if len(f.Winds) != len(reads) || f.LoadAt25.Value == 0 {
		t.Errorf("%d winds of %d rides", len(f.Winds), len(reads))
	}
}
