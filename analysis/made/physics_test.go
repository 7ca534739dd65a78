package made

import (
	"math"
	"testing"

	"cogledger/analysis/bike"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %.6g, want %.6g within %g", what, got, want, within)
	}
}

// still is a rider who never pedals or brakes.
func rollingOnly() Rider { return Rider{Name: "a load", DescentMPS: 100, PedalNm: 1} }

// Terminal speed on a grade, closed form: the speed at which air, tyres and
// bearings together weigh as much as the slope.
func TestTerminalSpeed(t *testing.T) {
	p := bike.Example()
	for _, grade := range []float64{0.03, 0.05, 0.08} {
		r := Simulate(p, Scenario{Course: NewCourse([]Leg{{Length: 4000, Grade: -grade}}), Ideal: true, AirC: 15}, rollingOnly(), 1)
		top := 0.0
		for _, v := range r.Truth.Speed {
			top = max(top, v)
		}
		weight := p.Mass.Total() * gravity
		a := 0.5 * 1.225 * p.Road.CdA // ISO 2533: 1.225 kg/m³ at 15 °C and 1013.25 hPa
		c := p.Road.Crr*weight*math.Sqrt(1-grade*grade) + 0.091 - weight*grade
		b := 0.0087
		near(t, "terminal speed", top, (-b+math.Sqrt(b*b-4*a*c))/(2*a), 0.002)
	}
}

// Coasting down on the level, closed form: with resistance c0 + c1 v + c2 v²
// the speed falls as a tangent.
func TestCoastDown(t *testing.T) {
	p := bike.Example()
	sc := Scenario{Course: NewCourse([]Leg{{Length: 2000}}), Ideal: true, AirC: 15, Charge: 1}
	s := newSim(p, sc, rollingOnly(), 1)
	s.v, s.brain.holding, s.brain.started = 9, false, true
	weight := p.Mass.Total() * gravity
	c0, c1, c2 := p.Road.Crr*weight+0.091, 0.0087, 0.5*1.225*p.Road.CdA
	root := math.Sqrt(4*c0*c2 - c1*c1)
	from := math.Atan((2*c2*9 + c1) / root)
	for range 5 {
		for range 10 * perSecond {
			s.step()
		}
		want := (root*math.Tan(from-root*s.t/(2*(p.Mass.Total()+wheelsKg))) - c1) / (2 * c2)
		near(t, "speed while coasting down", s.v, want, 0.01)
	}
}

// Modelica Standard Library, Electrical.Machines.Examples.DCMachines, the
// permanent-magnet machine without extra losses: 100 V and 100 A at 0.05 ohm
// give 1425 turns a minute, 63.66 N m, 500 W in copper and 9500 W at the shaft.
func TestMachineOfTheModelicaLibrary(t *testing.T) {
	w := 1425 * 2 * math.Pi / 60
	m := machine{motor: &motor{phaseLimit: 1000}, k: 95 / w, r: 0.05}
	near(t, "terminal power", m.terminal(100, w), 10000, 1e-6)
	near(t, "torque", m.k*100, 63.66, 0.005)
	near(t, "current for that torque", m.amps(63.662, w), 100, 0.001)
	near(t, "loss", m.losses(9500, w), 500, 1e-6)
	near(t, "current that 100 V let through", m.most(w, 100, 1e9), 100, 1e-6)
}

// Resistance of copper between 20 and 95 °C: 0.03864 to 0.0500 ohm in the same
// library's machine with losses (0.00392 a kelvin there). Between any two
// temperatures copper goes with (234.5 + T), IEC 60034-1.
func TestCopperGrowsMoreResistive(t *testing.T) {
	m := motor{r: 0.03864 * (1 + 0.00392*5)}
	near(t, "resistance at 95 °C", m.at(95, 25).r, 0.0500, 0.00005)
	near(t, "resistance at 25 °C", m.at(25, 25).r, m.r, 1e-12)
	near(t, "resistance at 120 °C over that at 20 °C", m.at(120, 25).r/m.at(20, 25).r, (234.5+120)/(234.5+20), 0.0005)
}

// With loss = R (P/(k w))² + B w² the best speed is (R P²/(k² B))^(1/4): set the
// derivative to zero. There copper loss equals drag loss.
func TestBestSpeedClosedForm(t *testing.T) {
	m := machine{motor: &motor{}, k: 0.1, r: 0.1, viscous: 1e-9}
	for _, p := range []float64{50, 250, 600} {
		const b = 0.0002
		m.viscous = b
		// The current that overcomes the drag adds a little copper loss to the
		// formula's: the search may differ by that much.
		want := math.Pow(m.r*p*p/(m.k*m.k*b), 0.25)
		near(t, "best speed", m.bestSpeed(p, 1e4), want, 0.03*want)
	}
}

// Modelica Standard Library, Thermal.HeatTransfer.Examples.Motor: winding and
// core of a motor under 100 W for 360 s and 1000 W for 240 s in turn, values by
// Runge-Kutta at 0.5 s.
func TestFurnaceOfTheModelicaLibrary(t *testing.T) {
	f := furnace{winding: 20, housing: 20, windingJ: 2500, housingJ: 25000, inner: 1.0 / 10, outer: 1.0 / 25}
	want := map[int][2]float64{
		360: {29.0816, 26.2461}, 600: {85.1144, 31.9072}, 1200: {105.7789, 42.0890}, 3600: {130.3421, 56.8806}, 7200: {134.3293, 59.3203},
	}
	for k := range 7200 * perSecond {
		loss := 100.0
		if math.Mod(float64(k)*stepS, 600) >= 360 {
			loss = 1000
		}
		loss *= 1 + 0.00303*(f.winding-95)
		f.heat(loss, 500, 20, nominalWind, stepS)
		if at, due := want[(k+1)/perSecond]; due && (k+1)%perSecond == 0 {
			near(t, "winding", f.winding, at[0], 0.1)
			near(t, "core", f.housing, at[1], 0.05)
		}
	}
}

// Cells of 18 milliohm, ten in series and four parallel, make 45 milliohm: 10 A
// drop 0.45 V, once the pack has settled.
func TestBatterySags(t *testing.T) {
	b := battery{nominal: 36, coulombs: 1e9, ohm: 0.045, charge: 0.5}
	power := (b.openCircuit() - 0.45) * 10
	for range 300 * perSecond {
		b.take(b.load(power).amps, stepS)
	}
	d := b.load(power)
	near(t, "current", d.amps, 10, 1e-3)
	near(t, "sag", d.open-d.volts, 0.45, 1e-4)
}

// Lodge & Burgess form, worked example: 48 on 24 teeth at 80 turns a minute,
// friction 0.09, pins of 1.75968 mm, 300 N of tension lose 1.8756733 W.
func TestChainLoss(t *testing.T) {
	speed := 48 * 12.7e-3 * 80 / 60
	near(t, "loss", chainLoss(bike.Gear{Front: 48, Rear: 24, Ratio: 2}, 1)*300*speed, 1.8756733, 1e-6)
}

// Spicer et al. 2001, J. Mech. Design 123:598: the best chain passed 98.6 % of
// the power and larger sprockets lose less. (52 on 21 teeth and 305 N: memory.)
func TestChainAsMeasured(t *testing.T) {
	loss := func(front, rear int) float64 {
		g := bike.Gear{Front: front, Rear: rear, Ratio: float64(front) / float64(rear)}
		radius := float64(front) * pitch / (2 * math.Pi)
		return chainLoss(g, 1) + guideTorque(g, 1)/(305*radius)
	}
	near(t, "efficiency on 52 and 21 teeth", 1-loss(52, 21), 0.986, 0.001)
	if !(loss(52, 11) > loss(52, 15) && loss(52, 15) > loss(52, 21)) {
		t.Error("a larger cog loses more")
	}
}

// A climb at steady speed, closed form: what motor and legs deliver is weight
// times rate of climb, tyres and air.
func TestSteadyClimb(t *testing.T) {
	p := bike.Example()
	r := Simulate(p, Scenario{Course: Climb(1500, 0.06), Ideal: true, AirC: 15}, Shifter(), 3)
	at := 0 // a second well up the climb without a shift near it
	for i := 20; i < r.Truth.Seconds; i++ {
		if r.Truth.Altitude[i] > 60 && math.Abs(r.Truth.Power[Kinetic][i]) < 0.5 && r.Truth.Pushing[i] {
			at = i
			break
		}
	}
	if at == 0 {
		t.Fatal("the climb never became steady")
	}
	v := r.Truth.Speed[at]
	weight := p.Mass.Total() * gravity
	want := v * (weight*0.06 + p.Road.Crr*weight*math.Sqrt(1-0.06*0.06) + 0.5*1.225*p.Road.CdA*v*v + 0.091 + 0.0087*v)
	got := r.Truth.Power[Delivered][at] + r.Truth.Power[Legs][at] - r.Truth.Power[LegsChain][at]
	near(t, "power at the wheel", got, want, 1)
}
