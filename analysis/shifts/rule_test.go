package shifts

import (
	"math"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/made"
)

// TestTheRuleSavesWhatItPromises rides the found rule again in the simulator,
// which shares nothing with the search but the bike profile: what it saves there
// is what the search said, within a fifth and a tenth of a Wh; and no rule saves
// more than the plan that knows the whole road, but for what that plan spends on
// the legs.
func TestTheRuleSavesWhatItPromises(t *testing.T) {
	var parts [][]Trial
	var promised, simulatedWh float64
	var best Rule
	type one struct {
		mr *made.Ride
		x  madeRide
	}
	var rides []one
	for seed := range uint64(2) {
		for _, mr := range made.Week(bike.Example(), made.Options{Seed: seed + 1}) {
			if len(mr.Tracks) > 1 || mr.Truth.Rider == made.Shifter().Name {
				continue
			}
			x := reviewed(t, mr)
			tried := Try(x.r, x.p, x.inf, x.rd, x.d, x.m)
			parts = append(parts, tried.Whole())
			rides = append(rides, one{mr, x})
		}
	}
	best = FindRule(parts, doubt.Derived, 0.1)
	if !best.Worth || !(best.Saving.Value > 0) || !(best.Saving.Low <= best.Saving.Value && best.Saving.Value <= best.Saving.High) {
		t.Fatalf("no rule for a rider who lugs: %+v", best)
	}
	if best.HighRPM-best.LowRPM < narrowestRule {
		t.Errorf("the rule shifts to and fro: %+v", best.Policy)
	}
	at := 0
	for k, policy := range Policies() {
		if policy == best.Policy {
			at = k
		}
	}
	for k, ride := range rides {
		x := ride.x
		saved := simulated(t, ride.mr, nil) - simulated(t, ride.mr, Follow(best.Policy, x.r, x.p, x.inf, x.rd, x.d, x.m))
		promised, simulatedWh = promised+parts[k][at].SavedWh, simulatedWh+saved
		plan := x.plan()
		t.Logf("%s: rule %.2f Wh, simulated %.2f, plan %.2f", ride.mr.Name, parts[k][at].SavedWh, saved, plan.Saving.Value)
	}
	t.Logf("%.0f/%.0f rpm: promised %.2f, simulated %.2f, cross-validated %.2f (%.2f to %.2f)", best.LowRPM, best.HighRPM, promised, simulatedWh, best.Saving.Value, best.Saving.Low, best.Saving.High)
	if math.Abs(promised-simulatedWh) > 0.2*simulatedWh+0.1 {
		t.Errorf("the rule promises %.2f Wh, the simulator saves %.2f", promised, simulatedWh)
	}
}

// A policy that is best on one ride by chance is not valued on that ride.
func TestARuleIsValuedOnOtherRides(t *testing.T) {
	n := len(Policies())
	lucky := func(k int) []Trial {
		part := make([]Trial, n)
		part[k] = Trial{SavedWh: 10, Worth: 36000}
		return part
	}
	rule := FindRule([][]Trial{lucky(0), lucky(1), lucky(2)}, doubt.Derived, 0)
	if rule.Saving.Value != 0 {
		t.Errorf("three lucky rides promise %g Wh", rule.Saving.Value)
	}
	steady := FindRule([][]Trial{lucky(3), lucky(3)}, doubt.Derived, 0.1)
	if math.Abs(steady.Saving.Value-20) > 1e-9 || math.Abs(steady.Saving.Low-18) > 1e-9 || steady.Policy != Policies()[3] {
		t.Errorf("%+v", steady)
	}
	if none := FindRule([][]Trial{make([]Trial, n), make([]Trial, n)}, doubt.Derived, 0); none.Worth || none.Saving.Value != 0 {
		t.Errorf("nothing to gain: %+v", none)
	}
	if alone := FindRule([][]Trial{lucky(1)}, doubt.Derived, 0); !math.IsNaN(alone.Saving.Value) {
		t.Errorf("one stretch values itself: %+v", alone)
	}
}
