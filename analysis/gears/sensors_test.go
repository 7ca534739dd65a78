package gears_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
)

// benchBikes are drivetrains as bikes have them: two rings, one ring with twelve
// and nine cogs, and an eight-speed gear hub (common practice, from memory).
func benchBikes() map[string]*bike.Profile {
	hub := profile(2200, []int{38}, []int{19})
	hub.Drivetrain.HubGears = []float64{0.527, 0.644, 0.748, 0.851, 1, 1.223, 1.419, 1.615}
	return map[string]*bike.Profile{
		"36/52": wideDouble(),
		"34/50": profile(2105, []int{34, 50}, []int{28, 25, 23, 21, 19, 17, 15, 14, 13, 12, 11}),
		"46/30": profile(2150, []int{30, 46}, []int{36, 32, 28, 25, 22, 19, 17, 15, 13, 11}),
		"1x12":  profile(2290, []int{32}, []int{51, 45, 39, 33, 28, 24, 21, 18, 16, 14, 12, 10}),
		"1x9":   profile(2200, []int{44}, []int{36, 30, 26, 23, 20, 17, 15, 13, 11}),
		"hub":   hub,
	}
}

// badSensors draws sensors as poor as those of the poorest recorded ride: speed
// that leads or lags by up to 2.5 s, wandering noise of 1 to 3 %, lost cadence,
// riders who shift every quarter of a minute or pedal softly.
func badSensors(seed uint64) sensors {
	rng := rand.New(rand.NewPCG(seed, 17))
	s := sensors{
		spread: 0.01 + 0.02*rng.Float64(), keep: 0.7 * rng.Float64(), lag: 5*rng.Float64() - 2.5,
		turns: 1 + rng.Float64(), hold: 1 + rng.Float64(), soft: 0.03 + 0.09*rng.Float64()*rng.Float64(),
		shiftsS: 14 + 26*rng.Float64(), power: rng.Float64() < 0.5,
	}
	if rng.Float64() < 0.3 { // speed by satellite
		s.jitter, s.smooth = 0.05, 1
	}
	if rng.Float64() < 0.4 {
		s.gaps = 0.01
	}
	return s
}

// TestBadSensors reports rides under poor sensors. Rides of even seeds may be
// tuned on, those of odd seeds may not, and theirs are the figures asserted. The
// truth is that of the generator: there is no published set of such rides.
//
//	go test ./analysis/gears -run BadSensors -v
func TestBadSensors(t *testing.T) {
	const rides = 6 // of each bike and half
	for half, name := range []string{"tuned on", "unseen"} {
		var whole, double tally
		for bikeName, p := range benchBikes() {
			var a tally
			rungs := len(p.Gears()) / len(p.Drivetrain.Chainrings)
			for k := range uint64(rides) {
				seed := 2*k + uint64(half)
				for _, c := range bikeName {
					seed = seed*31 + 2*uint64(c)
				}
				seed = seed&^1 | uint64(half)
				r, truth := madeRide(p, badSensors(seed), 3600, seed)
				f, err := gears.Infer(r, p, gears.Options{})
				if err != nil {
					t.Fatal(err)
				}
				into := []*tally{&a, &whole}
				if len(p.Drivetrain.Chainrings) > 1 {
					into = append(into, &double)
				}
				for _, to := range into {
					to.add(f, truth, rungs, func(i int) bool { return pedalling(r, i) })
				}
			}
			t.Logf("%-8s %-5s: %s; %s", name, bikeName, a.String(), a.kinds())
		}
		t.Logf("%s, all: %s; %s; %s", name, whole.String(), whole.kinds(), whole.curve())
		if name != "unseen" {
			continue
		}
		floor(t, "share of named seconds that are right", whole.right/whole.named, 0.989)
		floor(t, "share of seconds named", whole.named/whole.all, 0.8)
		floor(t, "share of rings right, two rings", double.ringRight/double.named, 0.98)
		floor(t, "1 - calibration error", 1-whole.calibrationError(), 0.97)
	}
}

func floor(t *testing.T, what string, got, least float64) {
	t.Helper()
	if !(got >= least) {
		t.Errorf("%s: %.4f, want at least %.4f", what, got, least)
	}
}

// kinds says what the wrong seconds are, the nearest cause first: within 3 s of
// a change, on the other ring, in a neighbour gear, or else.
func (a *tally) kinds() string {
	return fmt.Sprintf("wrong and named: %.0f s near a shift, %.0f other ring, %.0f neighbour, %.0f else; unnamed: %.0f s, %.0f near a shift",
		a.nearShift, a.otherRing, a.neighbour, a.otherwise(), a.all-a.named, a.unnamedNear)
}

func (a *tally) otherwise() float64 {
	return a.named - a.right - a.nearShift - a.otherRing - a.neighbour
}
