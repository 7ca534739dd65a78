package gears_test

import (
	"fmt"
	"math"
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

// setups are ways to log a ride, from clean to poor.
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

// tally counts how an inference did.
type tally struct {
	all, bestRight, named, right, ringRight float64
	n, ok, p                                [50]float64 // by probability
}

func (a *tally) add(index, best []int, prob []float64, truth []int, rungs int, counts func(int) bool) {
	for i, want := range truth {
		if !counts(i) || want < 0 || best[i] < 0 {
			continue
		}
		a.all++
		b := min(int(prob[i]*50), 49)
		a.n[b]++
		a.p[b] += prob[i]
		if best[i] == want {
			a.bestRight++
			a.ok[b]++
		}
		if index[i] < 0 {
			continue
		}
		a.named++
		if index[i] == want {
			a.right++
		}
		if index[i]/rungs == want/rungs {
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

func (a *tally) String() string {
	return fmt.Sprintf("named %.2f %%, right %.2f %%, ring right %.2f %%, best right %.2f %%, calibration error %.4f",
		100*a.named/a.all, 100*a.right/a.named, 100*a.ringRight/a.named, 100*a.bestRight/a.all, a.calibrationError())
}

func TestMadeRides(t *testing.T) {
	for name, s := range setups() {
		for _, p := range []*bike.Profile{single(), wideDouble()} {
			t.Run(fmt.Sprintf("%s, %d rings", name, len(p.Drivetrain.Chainrings)), func(t *testing.T) {
				var a tally
				for seed := range uint64(4) {
					r, truth := madeRide(p, s, 3600, seed)
					f, err := gears.Infer(r, p, gears.Options{})
					if err != nil {
						t.Fatal(err)
					}
					if testing.Verbose() && seed == 0 {
						t.Logf("lag %.2f C %.4f spread %.4f", f.LagSeconds, f.Circumference, f.Spread)
					}
					a.add(f.Index, f.Best, f.Probability, truth, len(p.Drivetrain.Cogs), func(i int) bool { return pedalling(r, i) })
				}
				t.Log(a.String())
			})
		}
	}
}
