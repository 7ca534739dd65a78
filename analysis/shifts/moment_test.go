package shifts

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Between two seconds that differ and save nothing lies a gap in the motor's
// power. What is left after the idle ends are cut off holds no pair of gears,
// and is no moment.
func TestNoMomentOfAGapInTheLog(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	x := makeRide(t, rng, hills(rng, 300, false), 80, 0, func(int, int, int) int { return 6 })
	plan := x.plan()
	copy(plan.Gear, x.inf.Index)
	const from, to = 100, 104
	for s := from; s <= to; s++ {
		if x.inf.Index[s] < 0 || !(x.d.Terminal[s] > 0) {
			t.Fatalf("second %d of the made ride is not pedalled", s)
		}
		if s == from || s == to {
			plan.Gear[s] = 7
			x.m.Terminal[x.m.At(s, 7)] = x.m.Terminal[x.m.At(s, 6)]
		} else {
			x.d.Terminal[s] = math.NaN()
		}
	}
	if found := x.moments(plan); len(found) > 0 {
		t.Errorf("%+v", found)
	}
}
