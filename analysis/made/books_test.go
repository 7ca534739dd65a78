package made

import (
	"math"
	"testing"

	"cogledger/analysis/bike"

	"pgregory.net/rapid"
)

// residuals are what the two sides of a second's books leave over, W.
func residuals(t *Truth, i int) (battery, wheel float64) {
	battery = t.Power[Stored][i]
	for a := BatteryHeat; a <= Delivered; a++ {
		battery -= t.Power[a][i]
	}
	wheel = t.Power[Delivered][i] + t.Power[Legs][i] - t.Power[LegsChain][i]
	for a := Air; a <= Brakes; a++ {
		wheel -= t.Power[a][i]
	}
	return battery, wheel
}

// Conservation of energy is the source: whatever the bike, the rider and the
// road, both sides of the truth close in each second.
func TestBooksClose(t *testing.T) {
	road := CoastRoad()
	riders := []Rider{Lugger(), OneGearLugger(), Shifter(), Between(Lugger(), Shifter(), 0.5)}
	bikes := []*bike.Profile{bike.Example(), hubBike(), directBike(), gearHubBike(), ringsBike(), oneSpeedBike()}
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		p := Drawn(rapid.SampledFrom(bikes).Draw(t, "bike"), seed)
		r := Simulate(p, Errand(road, seed, rapid.Float64Range(2, 12).Draw(t, "minutes")), rapid.SampledFrom(riders).Draw(t, "rider"), seed)
		stuck := r.Truth.Seconds >= mostSeconds // which one gear may be on a steep hill: the books close all the same
		if r.Truth.Seconds < 60 || stuck && len(p.Gears()) > 1 {
			t.Fatalf("a ride of %d s", r.Truth.Seconds)
		}
		for i := range r.Truth.Seconds {
			battery, wheel := residuals(r.Truth, i)
			scale := 1 + math.Abs(r.Truth.Power[Stored][i]) + math.Abs(r.Truth.Power[Kinetic][i])
			if !(math.Abs(battery) < 1e-6*scale && math.Abs(wheel) < 1e-6*scale) {
				t.Fatalf("second %d: %g W left over at the battery, %g W at the wheel", i, battery, wheel)
			}
			for _, a := range []Account{BatteryHeat, Controller, Copper, Drag, Chain, LegsChain, Rolling, Bearings} {
				if !(r.Truth.Power[a][i] >= -1e-9) {
					t.Fatalf("second %d: %s takes %g W", i, a, r.Truth.Power[a][i])
				}
			}
		}
	})
}

// Height and speed are known from where the ride began and ended: weight times
// height gained, and nothing for the speed of a bike that stands again.
func TestBooksAgreeWithWhereTheRideWent(t *testing.T) {
	p := bike.Example()
	r := Simulate(p, Scenario{Name: "hill", Course: CoastRoad().Stretch(3000, 9000)}, Shifter(), 5)
	course := r.scenario.Course
	height := course.height(r.Truth.Metres()) - course.height(0)
	want := p.Mass.Total() * gravity * height / 3600
	if got := r.Truth.Wh(Climbing); math.Abs(got-want) > 0.02*math.Abs(want)+0.02 {
		t.Errorf("climbing took %.3f Wh, weight times height gives %.3f Wh", got, want)
	}
	if got := r.Truth.Wh(Kinetic); math.Abs(got) > 1e-6 {
		t.Errorf("%.6f Wh stay in the speed of a standing bike", got)
	}
	if got := r.Truth.Wh(Rotor); math.Abs(got) > 1e-6 {
		t.Errorf("%.6f Wh stay in a rotor that stands", got)
	}
}

func hubBike() *bike.Profile {
	p := *bike.Example()
	p.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: 12}
	return &p
}

// directBike has a hub motor without reduction or clutch.
func directBike() *bike.Profile {
	p := *bike.Example()
	p.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: 1}
	p.Motor.TorqueConstant, p.Motor.CoulombTorque, p.Motor.Viscous, p.Motor.Inertia = 1.1, 0.5, 0.01, 0.01
	p.ReductionEfficiency = 1
	return &p
}

func gearHubBike() *bike.Profile {
	p := *bike.Example()
	p.Drivetrain = bike.Drivetrain{Chainrings: []int{38}, Cogs: []int{18}, HubGears: []float64{0.53, 0.62, 0.74, 0.85, 1, 1.22, 1.41, 1.62}}
	return &p
}

func ringsBike() *bike.Profile {
	p := *bike.Example()
	p.Drivetrain = bike.Drivetrain{Chainrings: []int{30, 44}, Cogs: []int{11, 12, 14, 16, 18, 21, 24, 28, 32, 36}}
	return &p
}

func oneSpeedBike() *bike.Profile {
	p := *bike.Example()
	p.Drivetrain = bike.Drivetrain{Chainrings: []int{38}, Cogs: []int{18}}
	return &p
}

// The analysis does not book the rotor's spin, and says so with these sizes: of
// the battery's energy a few parts in a thousand at most go through it, and
// nothing stays.
func TestRotorHoldsLittle(t *testing.T) {
	for _, rider := range []Rider{Lugger(), Shifter()} {
		for _, r := range Week(bike.Example(), Options{Seed: 1, Riders: []Rider{rider}}) {
			up, peak := 0.0, 0.0
			for _, w := range r.Truth.Power[Rotor] {
				up, peak = up+max(0, w)/3600, max(peak, w)
			}
			stored := r.Truth.Wh(Stored)
			if share := up / stored; share < 0.0002 || share > 0.003 {
				t.Errorf("%s, %s: %.3f %% of the battery's energy goes through the rotor", rider.Name, r.Name, 100*share)
			}
			if left := math.Abs(r.Truth.Wh(Rotor)) / stored; left > 0.0002 {
				t.Errorf("%s, %s: %.3f %% of the battery's energy stays in the rotor", rider.Name, r.Name, 100*left)
			}
			if peak > 15 {
				t.Errorf("%s, %s: the rotor takes %.0f W in a second", rider.Name, r.Name, peak)
			}
		}
	}
}
