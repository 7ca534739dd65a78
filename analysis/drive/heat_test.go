package drive_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.9g, want %.9g within %g", what, got, want, tolerance)
	}
}

// Modelica Standard Library, Thermal.HeatTransfer.Examples.Motor: winding
// 2500 J/K, core 25,000 J/K, 10 W/K between them, 25 W/K to air of 20 °C; core
// loss 500 W; winding loss 100 W for 360 s, then 1000 W for 240 s, times
// (1 + 0.00303 (T - 95 °C)). Temperatures by Runge-Kutta of fourth order.
func TestTwoNodeMotorOfALibraryExample(t *testing.T) {
	thermal := bike.Thermal{WindingJPerK: 2500, HousingJPerK: 25000, WindingToHousing: 1. / 10, HousingToAir: 1. / 25}
	want := map[int][2]float64{
		360: {29.0816, 26.2461}, 600: {85.1144, 31.9072}, 1200: {105.7789, 42.0890},
		3600: {130.3421, 56.8806}, 7200: {134.3293, 59.3203},
	}
	nodes := drive.NewNodes(thermal, 1)
	winding, housing := 20.0, 20.0
	for second := 1; second <= 7200; second++ {
		loss := 100.0
		if (second-1)%600 >= 360 {
			loss = 1000
		}
		winding, housing = nodes.Advance(winding, housing, 500, 20, func(c float64) float64 {
			return loss * (1 + 0.00303*(c-95))
		})
		if w, asked := want[second]; asked {
			near(t, "winding", winding, w[0], 0.002)
			near(t, "core", housing, w[1], 0.002)
		}
	}
}

// Modelica Standard Library, Thermal.HeatTransfer.Examples.TwoMasses, published
// result: 15 J/K each, 10 W/K, from 373.15 and 273.15 K. Closed form 323.15 ±
// 50 exp(-2 G t/C).
func TestTwoMassesOfALibraryExample(t *testing.T) {
	const kelvin = 273.15
	alone := bike.Thermal{WindingJPerK: 15, HousingJPerK: 15, WindingToHousing: 1. / 10, HousingToAir: math.Inf(1)}
	for _, c := range []struct{ seconds, hot, cold float64 }{
		{0.5, 348.82036, 297.47964}, {1, 336.32965, 309.97035},
	} {
		nodes := drive.NewNodes(alone, c.seconds)
		hot, cold := nodes.Step(373.15-kelvin, 273.15-kelvin, 0, 0, 20)
		near(t, "hot", hot+kelvin, c.hot, 0.0005)
		near(t, "cold", cold+kelvin, c.cold, 0.0005)
		near(t, "closed form", hot+kelvin, 323.15+50*math.Exp(-2*10*c.seconds/15), 1e-9)
	}
}

// Halving the time step moves the winding's temperature by less than 0.1 K
// over an hour of bursts that heat it past its class.
func TestHalvingTheStepChangesNothingThatMatters(t *testing.T) {
	p := bike.Example()
	u := drive.NewUnit(p)
	random := rand.New(rand.NewPCG(2, 3))
	one, half := drive.NewNodes(p.Thermal, 1), drive.NewNodes(p.Thermal, 0.5)
	w1, h1, w2, h2 := 20.0, 20.0, 20.0, 20.0
	amps, worst, hottest := 0.0, 0.0, 0.0
	for i := range 3600 {
		if i%20 == 0 {
			amps = 60 * random.Float64() * float64(random.IntN(2))
		}
		copper := func(c float64) float64 { return amps * amps * u.Resistance(c) }
		w1, h1 = one.Advance(w1, h1, 8, 20, copper)
		for range 2 {
			w2, h2 = half.Advance(w2, h2, 8, 20, copper)
		}
		worst, hottest = max(worst, math.Abs(w1-w2)), max(hottest, w1)
	}
	if worst >= 0.1 || hottest < 100 {
		t.Errorf("halving moves the winding by %.3f K of %.0f °C", worst, hottest)
	}
}

// The winding column of a run is that of the nodes stepped by the run's own
// losses.
func TestRunHeatsTheMotorByItsOwnLosses(t *testing.T) {
	p := bike.Example()
	m := makeRide(rand.New(rand.NewPCG(4, 4)), p, 1200, log{battery: true})
	d := m.run(p, drive.Options{})
	nodes, air := drive.NewNodes(p.Thermal, 1), p.Thermal.AmbientC
	winding, housing := make([]float64, 1200), make([]float64, 1200)
	w, h := air, air
	for i := range winding {
		w, h = nodes.Step(w, h, d.Copper[i], d.Drag[i]+p.Thermal.ControllerShare*d.Controller[i], air)
		winding[i], housing[i] = w, h
	}
	for i := 1; i < len(winding); i++ {
		near(t, "winding", d.Winding[i], (winding[i-1]+winding[i])/2, 0.1)
		near(t, "housing", d.Housing[i], (housing[i-1]+housing[i])/2, 0.1)
	}
	if peak := d.Winding[len(winding)-1]; peak < p.Thermal.AmbientC+2 {
		t.Errorf("the motor stays at %.1f °C", peak)
	}
}
