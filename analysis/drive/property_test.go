package drive_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
)

// anyUnit draws a drive that a checked profile could hold.
func anyUnit(t *rapid.T) drive.Unit {
	in := func(low, high float64, what string) float64 { return rapid.Float64Range(low, high).Draw(t, what) }
	return drive.Unit{
		K: in(0.02, 1.5, "K"), R25: in(0.01, 1, "R"), Coulomb: in(0, 0.3, "Coulomb"), Viscous: in(0, 1e-3, "viscous"),
		Fixed: in(0, 10, "fixed"), Volt: in(0, 1, "volt"), Ohm: in(0, 0.05, "ohm"),
		PhaseLimit: in(10, 100, "phase"), BatteryLimit: in(5, 40, "battery"), BatteryOhm: in(0, 0.3, "sag"),
		OpenCircuitV: 48, Reduction: in(0.8, 1, "reduction"), Clutch: true,
	}
}

// Every watt from the cells is in one account, forwards, backwards and at rest.
func TestPowerBalances(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := anyUnit(t)
		winding, voc := rapid.Float64Range(-20, 200).Draw(t, "winding"), rapid.Float64Range(30, 60).Draw(t, "volts")
		amps := rapid.Float64Range(-u.PhaseLimit, u.PhaseLimit).Draw(t, "amps")
		speed := rapid.Float64Range(0, 1.2*voc/u.K).Draw(t, "speed")
		pt := u.AtAmps(speed, amps, winding, voc)
		scale := math.Abs(pt.Terminal) + pt.Copper + pt.Drag + pt.Controller + 1
		if left := pt.Terminal - pt.Shaft - pt.Copper - pt.Drag - pt.Controller; math.Abs(left) > 1e-9*scale {
			t.Fatalf("%g W of %g W in no account", left, scale)
		}
		if pt.Terminal < voc*voc/(4*u.BatteryOhm+1e-12) {
			if left := voc*pt.BatteryAmps - pt.Terminal - pt.BatteryHeat; math.Abs(left) > 1e-9*scale {
				t.Fatalf("battery: %g W in no account", left)
			}
			if sag := voc - pt.BatteryAmps*u.BatteryOhm; math.Abs(sag-pt.BatteryVolts) > 1e-9*voc {
				t.Fatalf("battery: %g V, by Ohm's law %g V", pt.BatteryVolts, sag)
			}
		}
	})
}

// From the battery's power, and from the shaft's torque, the current comes
// back: pushing, standing and charging. Charging, two currents give the same
// power; the one that charges more for less heat is meant.
func TestInverseFindsTheCurrent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := anyUnit(t)
		winding, voc := rapid.Float64Range(-20, 200).Draw(t, "winding"), rapid.Float64Range(30, 60).Draw(t, "volts")
		speed := rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(0, voc/u.K)).Draw(t, "speed")
		strongest := (u.K*speed - u.Volt) / (2 * (u.Resistance(winding) + u.Ohm)) // charging
		least := max(-u.PhaseLimit, -0.98*max(0, strongest))
		amps := rapid.Float64Range(least, u.PhaseLimit).Draw(t, "amps")
		pt := u.AtAmps(speed, amps, winding, voc)
		check := func(what string, got float64) {
			if math.Abs(got-amps) > 1e-6*(1+math.Abs(amps)) {
				t.Fatalf("%s: %g A, want %g A at %g rad/s", what, got, amps, speed)
			}
		}
		check("from torque", u.AtTorque(speed, u.Torque(speed, amps), winding, voc).Amps)
		if speed > 1e-3 {
			check("from shaft power", u.AtShaft(speed, pt.Shaft, winding, voc).Amps)
		}
		if math.Abs(pt.Terminal-u.Fixed) > 1e-6 || math.Abs(amps) < 1e-9 {
			check("from terminal power", u.AtTerminal(speed, pt.Terminal, winding, voc).Amps)
		}
	})
}

// The strongest push is within every limit and no ampere more is.
func TestMostSitsOnItsLimit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := anyUnit(t)
		voc := rapid.Float64Range(36, 54).Draw(t, "volts")
		speed := rapid.Float64Range(0, 0.99*voc/u.K).Draw(t, "speed")
		most := u.Most(speed, 60, voc)
		if most.Amps <= 0 {
			return
		}
		under := u.AtAmps(speed, most.Amps*(1-1e-6), 60, voc)
		over := u.AtAmps(speed, most.Amps*(1+1e-6)+1e-6, 60, voc)
		if under.Limit != drive.NoLimit || over.Limit == drive.NoLimit {
			t.Fatalf("%v at %g A: below it %v, above it %v", most.Limit, most.Amps, under.Limit, over.Limit)
		}
	})
}

// A band holds every speed that is as good as it says, and none outside.
func TestBandIsWhatItSays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := anyUnit(t)
		power := rapid.Float64Range(0.02, 0.95).Draw(t, "share") * u.MostShaft(60, 48)
		if power < 15 {
			return
		}
		band := u.BandAt(power, 60, 48)
		if !(band.Low <= band.Best && band.Best <= band.High) {
			t.Fatalf("band %+v", band)
		}
		for range 20 {
			speed := rapid.Float64Range(0.3*band.Low, 2*band.High).Draw(t, "speed")
			pt := u.AtShaft(speed, power, 60, 48)
			good := pt.Limit == drive.NoLimit && pt.Efficiency() >= band.Efficiency-drive.BandPoints
			if pt.Limit == drive.NoLimit && pt.Efficiency() > band.Efficiency+1e-9 {
				t.Fatalf("%g at %g rad/s is better than the best, %g at %g", pt.Efficiency(), speed, band.Efficiency, band.Best)
			}
			inside := speed >= band.Low && speed <= band.High
			edge := min(math.Abs(speed/band.Low-1), math.Abs(speed/band.High-1))
			if inside != good && edge > 1e-6 {
				t.Fatalf("%g rad/s in [%g, %g]: inside %v, good %v (%v)", speed, band.Low, band.High, inside, good, pt.Limit)
			}
		}
	})
}

// Same wheel, same legs: the drive asked through AtWheel gives the wheel what
// was asked, counted forwards.
func TestAtWheelHoldsTheWheel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := bike.Example()
		u := drive.NewUnit(p)
		g := rapid.SampledFrom(p.Gears()).Draw(t, "gear")
		speed := rapid.Float64Range(0.5, 12).Draw(t, "speed")
		legs := rapid.Float64Range(0, 300).Draw(t, "legs")
		wheel := rapid.Float64Range(0, 800).Draw(t, "wheel")
		pt := u.AtWheel(g, speed, wheel, legs, 60, 48)
		in := pt.Shaft*u.Reduction + legs
		got := in * drive.ChainEfficiency(g, drive.ChainTension(g, in, u.CadenceRPM(speed, g)), 1)
		if in == 0 {
			got = 0
		}
		if pt.Shaft > 0 && math.Abs(got-wheel) > 1e-9*(1+wheel) || pt.Shaft == 0 && got < wheel-1e-9 {
			t.Fatalf("%g W at the wheel, asked %g", got, wheel)
		}
	})
}
