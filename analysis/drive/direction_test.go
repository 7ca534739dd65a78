package drive_test

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/replay"
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

// midAndHub are one loaded bike with the same motor once at the chainring and
// once in the wheel, there geared so that its voltage ends a tenth above the
// cut-off speed.
func midAndHub() (mid, hub *bike.Profile) {
	mid = bike.Example()
	mid.Drivetrain.Cogs = []int{11, 13, 15, 18, 21, 24, 28, 32, 36, 42, 51}
	mid.Mass.LoadKg = 40
	other := *mid
	other.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: replay.HubTurns(mid)}
	return mid, &other
}

// A steady is a bike that goes on at one speed.
type steady struct {
	kmh, percent, legs float64
	least, most        float64 // Wh/km more that the hub motor takes
}

var steadies = []steady{
	{22, 0, 90, -0.5, 0.5},
	{18, 3, 90, -0.5, 0.5},
	{15, 6, 200, -0.5, 0.5},
	{8, 8, 90, 1.5, 6},
	{7, 10, 90, 3, 9},
}

// Arango, Godoy & Lopez 2018, IJVSMT 13(1):44-58, abstract: on steep roads a
// hub motor used 18 % more energy than a mid drive. A direction, not a number
// to hit.
func TestHubMotorAgainstMidDriveOnFlatAndSteep(t *testing.T) {
	for _, c := range steadies {
		a, b := c.whPerKm()
		t.Log(c.row())
		if more := b - a; !(more >= c.least && more <= c.most) {
			t.Errorf("%g km/h on %g %%: the hub motor takes %+.2f Wh/km", c.kmh, c.percent, more)
		}
	}
}

// The table of the README is the one computed here.
func TestReadmeComparesHubAndMidAsComputed(t *testing.T) {
	text, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range steadies {
		if row := c.row(); !strings.Contains(string(text), row+"\n") {
			t.Errorf("README.md lacks the row\n%s", row)
		}
	}
}

func (c steady) whPerKm() (mid, hub float64) {
	a, b := midAndHub()
	return steadyWhPerKm(a, c.kmh/3.6, c.percent/100, c.legs), steadyWhPerKm(b, c.kmh/3.6, c.percent/100, c.legs)
}

// row is a line of the README's table.
func (c steady) row() string {
	mid, hub := c.whPerKm()
	return fmt.Sprintf("| %g %% | %g km/h | %g W | %.1f | %.1f | %+.1f %% |", c.percent, c.kmh, c.legs, mid, hub, 100*(hub/mid-1))
}
