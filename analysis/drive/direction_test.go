package drive_test

import (
	"math"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/road"
)

// steadyWhPerKm is what the cells give for a kilometre at a steady speed, in
// the best gear between 60 and 100 rpm, with the rider giving legs W.
func steadyWhPerKm(p *bike.Profile, speed, grade, legs float64) float64 {
	u := drive.NewUnit(p)
	e := road.NewEquation(p)
	e.Density, e.Gravity = 1.2, 9.81
	wheel := e.Steady(speed, speed, grade).Sum()
	best := math.Inf(1)
	for _, g := range p.Gears() {
		rpm := u.CadenceRPM(speed, g)
		pt := u.AtWheel(g, speed, wheel, legs, 60, 48)
		if rpm < 60 || rpm > 100 || pt.Limit != drive.NoLimit {
			continue
		}
		best = min(best, pt.Terminal+pt.BatteryHeat)
	}
	return best / 3.6 / speed
}

// Arango, Godoy & Lopez 2018, IJVSMT 13(1):44-58, abstract: on steep roads a
// hub motor used 18 % more energy than a mid drive. A direction, not a number
// to hit: here the same motor sits once at the chainring and once in the wheel,
// there geared so that its voltage ends a tenth above the cut-off speed.
func TestHubMotorAgainstMidDriveOnFlatAndSteep(t *testing.T) {
	mid := bike.Example()
	mid.Drivetrain.Cogs = []int{11, 13, 15, 18, 21, 24, 28, 32, 36, 42, 51}
	mid.Mass.LoadKg = 40
	hub := *mid
	u := drive.NewUnit(mid)
	hub.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: 0.9 * 48 / u.K / u.Cutoff * mid.Circumference() / (2 * math.Pi)}
	// Wh/km more that the hub motor takes.
	for _, c := range []struct{ kmh, grade, least, most float64 }{
		{22, 0, -0.5, 0.5},
		{18, 0.03, -0.5, 0.5},
		{8, 0.08, 1.5, 6},
		{7, 0.10, 3, 9},
	} {
		a, b := steadyWhPerKm(mid, c.kmh/3.6, c.grade, 90), steadyWhPerKm(&hub, c.kmh/3.6, c.grade, 90)
		t.Logf("%2.0f km/h on %2.0f %%: mid %.1f, hub %.1f Wh/km, %+.1f %%", c.kmh, 100*c.grade, a, b, 100*(b/a-1))
		if more := b - a; !(more >= c.least && more <= c.most) {
			t.Errorf("%g km/h on %g %%: the hub motor takes %+.2f Wh/km", c.kmh, 100*c.grade, more)
		}
	}
}
