package road

import (
	"math"
	"math/rand/v2"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/ingest/ride"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.9g, want %.9g within %g", what, got, want, tolerance)
	}
}

// ISO 2533 tables.
func TestStandardAtmosphere(t *testing.T) {
	temperature, pressure, density := StandardAir(1000)
	near(t, "K at 1000 m", temperature+273.15, 281.65, 1e-9)
	near(t, "Pa at 1000 m", pressure, 89875, 1)
	near(t, "kg/m³ at 1000 m", density, 1.1116, 5e-5)
	for _, c := range []struct{ height, density float64 }{
		{0, 1.225000}, {500, 1.167269}, {1500, 1.058067}, {2000, 1.006490},
	} {
		_, _, density := StandardAir(c.height)
		near(t, "density", density, c.density, 2e-6)
	}
	near(t, "density from pressure", Density(101325, 15), 1.225, 1e-5)
}

// WGS 84 (NIMA TR8350.2): Somigliana's formula.
func TestGravity(t *testing.T) {
	near(t, "equator", Gravity(0, 0), 9.7803253359, 1e-9)
	near(t, "pole", Gravity(90, 0), 9.8321849378, 1e-9)
	near(t, "45°", Gravity(45, 0), 9.8061977694, 1e-9)
	near(t, "latitude not known", Gravity(math.NaN(), 0), 9.8061977694, 1e-9)
	if Gravity(45, 1000) >= Gravity(45, 0) {
		t.Error("gravity does not fall with height")
	}
}

// The altimeter form with 44330 and 5.255, worked example of a chip's note:
// 996.4 over 1013.25 hPa is 141.238 m.
func TestBarometricHeight(t *testing.T) {
	near(t, "height", BarometricHeight(996.4, 1013.25), 141.238, 0.001)
}

// van Druenen & Blocken 2021, Sports Engineering 24:10, Table 1: 72 kg, 7.5 %,
// rho 1.225, Crr 0.0032, wheel drag area 0.0044 m², g 9.81, efficiency 0.98;
// drag areas alone 0.473, following 0.261, seventh of eight 0.164. Abstract:
// the follower saves "over 7 %" at 6 m/s, savings pass 16 % at 8 m/s.
func TestSteepClimbOfAPublishedStudy(t *testing.T) {
	power := func(cda, speed float64) (Terms, float64) {
		e := Equation{Mass: 72, CdA: cda + 0.0044, Crr: 0.0032, Density: 1.225, Gravity: 9.81}
		terms := e.Steady(speed, speed, 0.075)
		return terms, terms.Sum() / 0.98
	}
	terms, alone := power(0.473, 6)
	near(t, "air", terms.Air, 63.16, 0.005)
	near(t, "rolling", terms.Rolling, 13.52, 0.005)
	near(t, "bearings", terms.Bearings, 0.86, 0.005)
	near(t, "climbing", terms.Climbing, 316.95, 0.005)
	near(t, "alone", alone, 402.55, 0.01)
	_, follower := power(0.261, 6)
	near(t, "follower's saving at 6 m/s", 1-follower/alone, 0.0711, 5e-5)
	_, alone = power(0.473, 8)
	_, seventh := power(0.164, 8)
	near(t, "seventh's saving at 8 m/s", 1-seventh/alone, 0.1638, 5e-5)
}

// Martin et al. 1998, J. Appl. Biomech. 14(3):276-291, worked example. Its
// inputs and its total of 213.3 W are from memory; the parts are by the
// equation.
func TestWorkedExampleOfTheRoadLoad(t *testing.T) {
	const seconds, metres = 56.42, 471.8
	e := Equation{Mass: 90, RotatingMass: 0.14 / (0.311 * 0.311), CdA: 0.2565 + 0.0044, Crr: 0.0032, Density: 1.2234, Gravity: 9.81}
	terms := e.Steady(metres/seconds, 10.91, 0.003)
	near(t, "air", terms.Air, 158.80, 0.05)
	near(t, "rolling", terms.Rolling, 23.63, 0.01)
	near(t, "bearings", terms.Bearings, 1.37, 0.01)
	near(t, "climbing", terms.Climbing, 22.15, 0.01)
	kinetic := e.Inertia(8.28, 8.45, seconds)
	near(t, "kinetic", kinetic, 2.31, 0.01)
	near(t, "total", (terms.Sum()+kinetic)/0.97698, 213.3, 0.5)
}

// EN 15194, Annex D form of the power in a start: P = 2 m D²/t³. 150 kg, 20 m,
// 6.0 s give 555.6 W. (Read in a secondary source.)
func TestStartPowerForm(t *testing.T) {
	e := Equation{Mass: 150}
	near(t, "start", e.Inertia(0, 2*20/6.0, 6), 555.6, 0.05)
}

// madeRide rolls over a sine-shaped hill with a noisy altimeter and stops at
// both ends.
func madeRide(seconds int, noise float64) (r *ride.Ride, grade []float64) {
	random := rand.New(rand.NewPCG(7, 11))
	r = ride.New(seconds)
	speed, altitude := make([]float64, seconds), make([]float64, seconds)
	grade = make([]float64, seconds)
	x := 0.0
	for i := range speed {
		speed[i] = min(7+math.Sin(float64(i)/40), 0.5*float64(i), 0.5*float64(seconds-1-i))
		x += speed[i]
		const wave = 300
		altitude[i] = 500 + 8*math.Sin(x/wave) + noise*random.NormFloat64()
		grade[i] = 8.0 / wave * math.Cos(x/wave)
	}
	r.SetColumn(ride.Speed, speed, nil, ride.WheelSensor)
	r.SetColumn(ride.Altitude, altitude, nil, ride.Device)
	return r, grade
}

func TestGradeAndItsDoubtFromANoisyAltimeter(t *testing.T) {
	for _, noise := range []float64{0.1, 0.4, 1} {
		r, grade := madeRide(3000, noise)
		s := Load(r, bike.Example(), Options{})
		near(t, "altimeter's noise", s.AltitudeSigma, noise, 0.2*noise+0.03)
		var within, n int
		for i := range grade {
			if !s.Moving[i] || i < 20 || i > len(grade)-20 {
				continue
			}
			n++
			if math.Abs(s.Grade[i]-grade[i]) < 2*s.GradeSigma[i] {
				within++
			}
		}
		if share := float64(within) / float64(n); share < 0.85 {
			t.Errorf("noise %g m: true grade within two sigma in %.0f %% only", noise, 100*share)
		}
	}
}

// What goes into speed and height comes out again: stopped at both ends the
// inertia adds up to nothing, and climbing to weight times height gained.
func TestSpeedAndHeightGiveBackWhatTheyTook(t *testing.T) {
	r, _ := madeRide(3000, 0.2)
	s := Load(r, bike.Example(), Options{})
	var inertia, into, climbing float64
	for i := range s.Inertia {
		inertia += s.Inertia[i]
		into += math.Abs(s.Inertia[i]) / 2
		climbing += s.Climbing[i]
	}
	near(t, "into speed and back", inertia, 0, 0.01*into)
	last := len(s.Altitude) - 1
	rise := s.Altitude[last] - s.Altitude[0]
	near(t, "height", climbing, 108*9.806*rise, 108*9.806*0.5)
}

func TestMissingStaysMissing(t *testing.T) {
	r, _ := madeRide(100, 0)
	flat := ride.New(100)
	flat.SetColumn(ride.Speed, r.Column(ride.Speed), nil, ride.WheelSensor)
	flat.SetPaused(50, true)
	s := Load(flat, bike.Example(), Options{})
	if !math.IsNaN(s.Grade[30]) || !math.IsNaN(s.Climbing[30]) || !math.IsNaN(s.Demand[30]) {
		t.Error("a ride without altitude has a grade")
	}
	if math.IsNaN(s.Air[30]) || math.IsNaN(s.Rolling[30]) || math.IsNaN(s.Inertia[30]) {
		t.Error("a ride without altitude lost its other terms")
	}
	if !math.IsNaN(s.Air[50]) || s.Moving[50] {
		t.Error("a pause is booked")
	}
	for i, d := range s.Distance {
		if math.IsNaN(d) || i > 0 && d < s.Distance[i-1] {
			t.Fatalf("distance %g at %d s", d, i)
		}
	}
	empty := Load(ride.New(3), bike.Example(), Options{})
	if empty.Moving[1] || !math.IsNaN(empty.Speed[1]) {
		t.Error("an empty ride moves")
	}
}

func TestHeadWindIsFeltAndDoubted(t *testing.T) {
	r, _ := madeRide(200, 0)
	calm := Load(r, bike.Example(), Options{})
	blown := Load(r, bike.Example(), Options{HeadWind: 1.5})
	i := 100
	change := blown.Air[i] - calm.Air[i]
	if change <= 0 || math.Abs(change-calm.AirSigma[i]) > 0.2*change {
		t.Errorf("1.5 m/s of wind change the air by %g W, stated doubt %g W", change, calm.AirSigma[i])
	}
}

func BenchmarkLoad(b *testing.B) {
	r, _ := madeRide(10000, 0.3)
	p := bike.Example()
	for b.Loop() {
		Load(r, p, Options{})
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/10000, "ns/s_of_ride")
}

// By sampling winds that blow from all sides: what they add to the air's power
// on average, besides what the parts along the road cancel.
func TestMeanOfUnknownWinds(t *testing.T) {
	r, _ := madeRide(200, 0)
	p := bike.Example()
	for _, sigma := range []float64{1, 1.5, 2} {
		s := Load(r, p, Options{WindSigma: sigma})
		random := rand.New(rand.NewPCG(3, 4))
		const i, n = 100, 200000
		v, mean := s.Speed[i], 0.0
		for range n {
			ahead, beside := v+sigma*random.NormFloat64(), sigma*random.NormFloat64()
			mean += s.Density[i] / 2 * p.Road.CdA * math.Hypot(ahead, beside) * ahead * v / n
		}
		near(t, "mean of winds", s.WindMean(i), mean-s.Air[i], 0.05*s.WindMean(i)+0.2)
	}
}
