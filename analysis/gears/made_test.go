package gears_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
)

func wideDouble() *bike.Profile {
	return profile(2155, []int{36, 52}, []int{30, 27, 24, 21, 19, 17, 15, 14, 13, 12, 11})
}

func single() *bike.Profile {
	return profile(2268, []int{42}, []int{46, 39, 33, 28, 24, 21, 18, 16, 14, 12, 11})
}

// setups are ways to log a ride, from clean to poor, with what may be asked of
// them: the least share of named seconds that are right.
func setups() map[string]sensors {
	return map[string]sensors{
		"wheel sensor":      {spread: 0.005, lag: 0.5, turns: 1, hold: 1.5, power: true, soft: 0.04, shiftsS: 30},
		"no power":          {spread: 0.01, keep: 0.3, lag: 0.5, turns: 1, hold: 1.5, soft: 0.06, shiftsS: 25},
		"satellite":         {spread: 0.01, keep: 0.7, jitter: 0.05, lag: 1, smooth: 2, turns: 1.5, hold: 2, power: true, soft: 0.05, shiftsS: 25},
		"poor satellite":    {spread: 0.02, keep: 0.8, jitter: 0.1, lag: 2, smooth: 2, turns: 2, hold: 2, soft: 0.05, shiftsS: 20},
		"three per cent":    {spread: 0.03, keep: 0, turns: 1, hold: 1, power: true, soft: 0.04, shiftsS: 25},
		"three, correlated": {spread: 0.03, keep: 0.6, lag: 1, turns: 1, hold: 1, power: true, soft: 0.04, shiftsS: 25},
	}
}

// TestMadeRides rides both bikes under every setup. The truth is that of the
// generator beside this test: there is no published ride with it.
func TestMadeRides(t *testing.T) {
	least := map[string]float64{"poor satellite": 0.96, "three, correlated": 0.965}
	var whole tally
	for name, s := range setups() {
		for _, p := range []*bike.Profile{single(), wideDouble()} {
			var a tally
			for seed := range uint64(4) {
				r, truth := madeRide(p, s, 3600, seed)
				f, err := gears.Infer(r, p, gears.Options{})
				if err != nil {
					t.Fatal(err)
				}
				for _, to := range []*tally{&a, &whole} {
					to.add(f, truth, len(p.Drivetrain.Cogs), func(i int) bool { return pedalling(r, i) })
				}
			}
			t.Logf("%-18s %d rings: %s", name, len(p.Drivetrain.Chainrings), a.String())
			want := least[name]
			if want == 0 {
				want = 0.985
			}
			if a.right/a.named < want {
				t.Errorf("%s, %d rings: %.2f %% of the named seconds right, want %.1f %%", name, len(p.Drivetrain.Chainrings), 100*a.right/a.named, 100*want)
			}
			if a.ringRight/a.named < 0.95 {
				t.Errorf("%s: ring right in %.2f %% of the named seconds, want 95 %%", name, 100*a.ringRight/a.named)
			}
		}
	}
	t.Logf("all: %s; %s", whole.String(), whole.curve())
	if e := whole.calibrationError(); e > 0.03 {
		t.Errorf("expected calibration error %.4f, want at most 0.03", e)
	}
	if share := whole.right / whole.named; share < 0.985 {
		t.Errorf("%.2f %% of the named seconds right over all setups", 100*share)
	}
}

// A tally counts how inferences did.
type tally struct {
	all, bestRight, named, right, ringRight float64

	nearShift, otherRing, neighbour, unnamedNear float64 // s, of those named and wrong; of the unnamed

	n, ok, p [20]float64 // by probability
}

func (a *tally) add(f *gears.Inference, truth []int, rungs int, counts func(int) bool) {
	a.count(f, counts, func(t, gear int) (bool, bool) { return gear == truth[t], gear/rungs == truth[t]/rungs })
	for t, best := range f.Best {
		if !counts(t) || best < 0 {
			continue
		}
		about := truth[max(0, t-3):min(len(truth), t+4)]
		near := slices.Min(about) != slices.Max(about)
		switch {
		case f.Index[t] < 0:
			if near {
				a.unnamedNear++
			}
		case best == truth[t]:
		case near:
			a.nearShift++
		case best/rungs != truth[t]/rungs:
			a.otherRing++
		case best-truth[t] == 1 || truth[t]-best == 1:
			a.neighbour++
		}
	}
}

// addRear compares the rear gear alone; truth counts from the largest cog.
func (a *tally) addRear(f *gears.Inference, truth []int, rungs int, counts func(int) bool) {
	a.count(f, func(t int) bool { return counts(t) && truth[t] >= 0 }, func(t, gear int) (bool, bool) { return gear%rungs == truth[t], true })
}

func (a *tally) count(f *gears.Inference, counts func(int) bool, right func(t, gear int) (gearRight, ringRight bool)) {
	for t, best := range f.Best {
		if !counts(t) || best < 0 {
			continue
		}
		gear, ring := right(t, best)
		bin := min(int(f.Probability[t]*20), 19)
		a.all++
		a.n[bin]++
		a.p[bin] += f.Probability[t]
		if gear {
			a.bestRight++
			a.ok[bin]++
		}
		if f.Index[t] < 0 {
			continue
		}
		a.named++
		if gear {
			a.right++
		}
		if ring {
			a.ringRight++
		}
	}
}

// calibrationError is the expected calibration error over the bins.
func (a *tally) calibrationError() float64 {
	sum := 0.0
	for b := range a.n {
		sum += math.Abs(a.ok[b] - a.p[b])
	}
	return sum / a.all
}

// curve is the reliability curve: said, true and seconds by bin.
func (a *tally) curve() string {
	s := "reliability (said: true, seconds)"
	for b := range a.n {
		if a.n[b] > 0 {
			s += fmt.Sprintf(" %.2f: %.2f, %.0f;", a.p[b]/a.n[b], a.ok[b]/a.n[b], a.n[b])
		}
	}
	return s
}

func (a *tally) String() string {
	return fmt.Sprintf("named %.2f %%, right %.2f %%, ring right %.2f %%; best guess right %.2f %%; calibration error %.4f",
		100*a.named/a.all, 100*a.right/a.named, 100*a.ringRight/a.named, 100*a.bestRight/a.all, a.calibrationError())
}
