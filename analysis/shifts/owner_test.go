package shifts

import (
	"math/rand/v2"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/ledger"
	"cogledger/analysis/made"
)

// TestHabitsCostNoMoreThanWasLost: over 50 weeks of five short rides by riders
// of every kind, and one long week of the simulator, what a ride's habits cost
// together is part of what it lost to lugging.
func TestHabitsCostNoMoreThanWasLost(t *testing.T) {
	weeks, told := 50, 0
	if testing.Short() {
		weeks = 10
	}
	check := func(x madeRide) {
		t.Helper()
		lost, _ := ledger.Lugging(x.d, x.m, x.p)
		sum := 0.0
		for _, h := range x.habits(x.plan()) {
			if h.Kind == SpinningOut || h.Kind == HardBursts {
				continue // the motor does not lug in them
			}
			sum += h.Cost.Value
			if h.Cost.Value > 0 {
				told++
			}
		}
		if sum > lost+1e-9 {
			t.Errorf("habits cost %.3f Wh of %.3f lost", sum, lost)
		}
	}
	rng := rand.New(rand.NewPCG(15, 3))
	for range weeks {
		tall := 5 + rng.IntN(5) // the gear the rider likes to stay in
		for range 5 {
			check(makeRide(t, rng, hills(rng, 300+rng.IntN(300), true), 80, 0.2, func(s, gear, ideal int) int {
				if s%40 == 0 {
					return max(ideal, tall)
				}
				return gear
			}))
		}
	}
	for _, mr := range made.Week(bike.Example(), made.Options{Seed: 15}) {
		check(reviewed(t, mr))
	}
	if told < weeks {
		t.Errorf("%d habits cost anything: nothing was tried", told)
	}
}
