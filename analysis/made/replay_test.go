package made

import (
	"testing"

	"cogledger/analysis/bike"
)

func same(n int) []int {
	plan := make([]int, n)
	for i := range plan {
		plan[i] = -1
	}
	return plan
}

// Ridden again in its own gears, a ride must cost what it cost.
func TestReplayInItsOwnGears(t *testing.T) {
	for _, r := range Week(bike.Example(), Options{Seed: 8}) {
		again, err := r.Replay(same(r.Truth.Seconds))
		if err != nil {
			t.Fatal(err)
		}
		near(t, r.Name+": battery", again.TerminalWh, r.Truth.TerminalWh(), 2e-4*r.Truth.TerminalWh())
		for a := Stored; a <= Delivered; a++ {
			near(t, r.Name+": "+a.String(), again.Wh[a], r.Truth.Wh(a), 0.002*r.Truth.Wh(a)+0.006)
		}
		residual := again.Wh[Stored]
		for a := BatteryHeat; a <= Delivered; a++ {
			residual -= again.Wh[a]
		}
		near(t, r.Name+": residual", residual, 0, 1e-3*again.Wh[Stored])
	}
}

// Ridden again with the lugging seconds in their best gears, the ride must
// save what the truth says lugging cost, and a little more: a cooler winding
// and a fuller battery serve the other seconds too.
func TestReplayWithoutLugging(t *testing.T) {
	for _, r := range Week(bike.Example(), Options{Seed: 8}) {
		lost := r.Truth.LuggingWh()
		if lost < 0.3 {
			continue
		}
		ridden, err := r.Replay(same(r.Truth.Seconds))
		if err != nil {
			t.Fatal(err)
		}
		plan, least := same(r.Truth.Seconds), ridden.Terminal
		for g, gear := range r.Bike.Gears() {
			trial := same(r.Truth.Seconds)
			for i := range trial {
				rpm := r.Truth.Speed[i] * 60 / (r.Bike.Circumference() * gear.Ratio)
				if r.Truth.Lugging[i] && rpm > min(60, r.Truth.CadenceRPM[i]) && rpm < 100 {
					trial[i] = g
				}
			}
			again, err := r.Replay(trial)
			if err != nil {
				t.Fatal(err)
			}
			for i := range trial {
				if trial[i] >= 0 && again.Terminal[i] < least[i] {
					plan[i], least[i] = g, again.Terminal[i]
				}
			}
		}
		saved, err := r.Replay(plan)
		if err != nil {
			t.Fatal(err)
		}
		if got := ridden.Wh[Stored] - saved.Wh[Stored]; got < 0.97*lost || got > 1.25*lost {
			t.Errorf("%s: %.3f Wh saved, truth says %.3f Wh lost", r.Name, got, lost)
		}
		if saved.WindingC > ridden.WindingC+0.5 {
			t.Errorf("%s: winding peaks at %.1f °C without lugging, %.1f °C with it", r.Name, saved.WindingC, ridden.WindingC)
		}
	}
}

func TestReplayRefuses(t *testing.T) {
	r := Week(bike.Example(), Options{Seed: 8, Rides: 1})[0]
	if _, err := r.Replay(nil); err == nil {
		t.Error("a plan of no seconds was ridden")
	}
	plan := same(r.Truth.Seconds)
	plan[7] = 99
	if _, err := r.Replay(plan); err == nil {
		t.Error("gear 99 was ridden")
	}
	hub := Simulate(hubBike(), Scenario{Course: Climb(300, 0.03)}, Lugger(), 1)
	if _, err := hub.Replay(same(hub.Truth.Seconds)); err == nil {
		t.Error("a hub motor was given gears")
	}
}
