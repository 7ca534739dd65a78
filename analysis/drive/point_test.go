package drive

import (
	"math"
	"testing"
)

// wide is a unit without limits, to be given a motor.
func wide() Unit {
	return Unit{PhaseLimit: 1e9, BatteryLimit: 1e9, OpenCircuitV: 1e6, Reduction: 1}
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.9g, want %.9g within %g", what, got, want, tolerance)
	}
}

const rpm = 2 * math.Pi / 60 // rad/s

// Modelica Standard Library, Electrical.Machines.Examples.DCMachines.DCPM_withLosses
// (Haumer, Kral, Kapeller, Bäuml): 100 V, 100 A, 10,000 W = copper 500 + core
// 200 + stray 50 + friction 100 + brush 50 + shaft 9,100 at 1417.5 rpm. Core,
// stray and friction are one account here, drag.
func TestLossSplitOfAPublishedMachine(t *testing.T) {
	u := wide()
	u.R25 = 0.03864 * (234.5 + 25) / (234.5 + 20)
	near(t, "ohm at 20 °C", u.Resistance(20), 0.03864, 1e-12)
	near(t, "ohm at 95 °C", u.Resistance(95), 0.0500, 5e-5)

	u.R25 *= 0.05 / u.Resistance(95)
	speed := 1417.5 * rpm
	u.K = 94.5 / speed
	u.Volt = 0.5
	u.Coulomb = (200 + 50 + 100) / speed
	pt := u.AtTerminal(speed, 10000, 95, u.OpenCircuitV)
	near(t, "current", pt.Amps, 100, 1e-6)
	near(t, "volts with the brushes", pt.MotorVolts+u.Volt, 100, 1e-6)
	near(t, "copper", pt.Copper, 500, 1e-4)
	near(t, "drag", pt.Drag, 350, 1e-9)
	near(t, "brush", pt.Controller, 50, 1e-6)
	near(t, "shaft", pt.Shaft, 9100, 1e-3)
	near(t, "torque", u.Torque(speed, pt.Amps), 61.30, 0.005)
	near(t, "efficiency", pt.Efficiency(), 0.910, 1e-6)

	// The sister machine without the extra losses.
	u.Volt, u.Coulomb = 0, 0
	sister := 1425 * rpm
	pt = u.AtTerminal(sister, 10000, 95, u.OpenCircuitV)
	near(t, "sister's current", pt.Amps, 100, 1e-3)
	near(t, "sister's shaft", pt.Shaft, 9500, 0.02)
	near(t, "sister's torque", u.Torque(sister, pt.Amps), 63.66, 0.005)
}

// A permanent-magnet motor at constant voltage has eta = (1 - I/Is)(1 - I0/I),
// best at sqrt(I0 Is) with (1 - sqrt(I0/Is))²: any textbook on small motors.
func TestBestPointAtConstantVoltage(t *testing.T) {
	u := wide()
	u.K, u.R25 = 0.02, 25
	u.Coulomb = 0.02 * u.K // no-load current 0.02 A
	const volts = 12
	eta := func(amps float64) float64 {
		return u.AtAmps((volts-amps*u.R25)/u.K, amps, ReferenceC, u.OpenCircuitV).Efficiency()
	}
	amps := goldenMin(0.021, 0.47, func(amps float64) float64 { return -eta(amps) })
	near(t, "current", amps, 0.0979796, 1e-6)
	near(t, "efficiency", eta(amps), 0.6334184, 1e-7)
}

// "Understanding D.C. Motor Characteristics", MIT Center for Innovation in
// Product Development: power peaks at half the no-load speed and half the
// stall torque.
func TestPowerPeakOfPublishedGearmotors(t *testing.T) {
	for _, c := range []struct{ noLoadRPM, stall, peakRPM, peakTorque float64 }{
		{600, 0.325, 300, 0.1625}, // printed as 0.163
		{3750, 0.0722, 1875, 0.0361},
	} {
		u := wide()
		u.OpenCircuitV = 12
		u.K = u.OpenCircuitV / (c.noLoadRPM * rpm)
		u.R25 = u.OpenCircuitV * u.K / c.stall
		peak := u.strongest(ReferenceC, u.OpenCircuitV)
		near(t, "rpm at the peak", peak.Speed/rpm, c.peakRPM, 1e-3*c.peakRPM)
		near(t, "torque at the peak", peak.Shaft/peak.Speed, c.peakTorque, 1e-3*c.peakTorque)
		near(t, "power", u.MostShaft(ReferenceC, u.OpenCircuitV), c.peakRPM*rpm*c.peakTorque, 1e-9)
		if peak.Limit != VoltageLimit {
			t.Errorf("limit %v, want voltage", peak.Limit)
		}
	}
}

// Fitzgerald, Kingsley & Umans, Electric Machinery, 6th ed., Example 7.9.
// Inputs from memory; outcome by its own closed form without rounding.
func TestHandbookMotorFromItsNoLoadRun(t *testing.T) {
	const ra = 1.03
	noLoad, loaded := 2100*rpm, 1700*rpm
	rotational := (50 - 1.25*ra) * 1.25
	u := wide()
	u.R25 = ra
	u.K = (50 - 1.25*ra) / noLoad
	// Rotational loss as one number of watts at both speeds.
	u.Viscous = (rotational/noLoad - rotational/loaded) / (noLoad - loaded)
	u.Coulomb = rotational/loaded - u.Viscous*loaded
	near(t, "K", u.K, 0.221510, 1e-6)
	near(t, "shaft without load", u.AtAmps(noLoad, 1.25, ReferenceC, 1e6).Shaft, 0, 1e-9)
	pt := u.AtTerminal(loaded, 48*8.316617, ReferenceC, 1e6)
	near(t, "current", pt.Amps, 8.3166, 1e-4)
	near(t, "volts", pt.MotorVolts, 48, 1e-4)
	near(t, "rotational loss", pt.Drag, 60.891, 1e-3)
	near(t, "shaft", pt.Shaft, 267.06, 0.01)
}

// Scilab textbook companion 1892, Ex. 4.4: a 48 V brushless motor of 0.12 V s/rad,
// twice 0.15 ohm in series, 2 V in the devices.
func TestBrushlessMotorAtNoLoadAndStall(t *testing.T) {
	u := wide()
	u.K, u.R25, u.Volt = 0.12, 0.3, 2
	noLoad := u.AtTerminal(48/u.K, 0, ReferenceC, 1e6)
	near(t, "no-load rpm", noLoad.Speed/rpm, 3819.7, 0.05)
	near(t, "no-load volts", noLoad.MotorVolts, 48, 1e-9)
	near(t, "no-load current", noLoad.Amps, 0, 1e-12)
	stall := u.AtTerminal(0, 48*153.33333333, ReferenceC, 1e6)
	near(t, "stall current", stall.Amps, 153.33, 0.005)
	near(t, "stall torque", u.Torque(0, stall.Amps), 18.4, 1e-3)
}

// This model's own closed form, derived here: with loss R (P/(K w))² + B w²
// the derivative vanishes at w⁴ = R P²/(K² B), where both parts are equal.
func TestBestSpeedClosedForm(t *testing.T) {
	u := wide()
	u.K, u.R25, u.Viscous = 0.095, 0.12, 1.2e-4
	u.OpenCircuitV = 1e4
	for _, p := range []float64{20, 80, 250, 700} {
		want := math.Pow(u.R25*p*p/(u.K*u.K*u.Viscous), 0.25)
		// The exact current also pays for the drag itself, a small share.
		pt := u.AtShaft(want, p, ReferenceC, u.OpenCircuitV)
		copper := u.R25 * math.Pow(p/(u.K*want), 2)
		near(t, "copper equals drag", copper, pt.Drag, 1e-9*copper)
		got := u.Band(p)
		near(t, "best speed", got.Best, want, 0.06*want)
		// Letting the drag's own current vanish gives the closed form itself.
		faint := u
		faint.R25, faint.Viscous = u.R25*1e-6, u.Viscous*1e-6
		near(t, "best speed, losses vanishing", faint.Band(p).Best, want, 1e-5*want)
	}
}

// IEC 60034-1, temperature by resistance: T2 = (R2/R1)(K + T1) - K. Handbook
// example with K = 234.5: 80 ohm at 20 °C, 100 ohm hot, 83.63 °C.
func TestTemperatureByResistance(t *testing.T) {
	u := wide()
	u.R25 = 80 * (234.5 + 25) / (234.5 + 20)
	near(t, "ohm at 20 °C", u.Resistance(20), 80, 1e-12)
	near(t, "hot", u.WindingC(100), 83.63, 0.005)
	near(t, "there and back", u.Resistance(u.WindingC(100)), 100, 1e-9)
}
