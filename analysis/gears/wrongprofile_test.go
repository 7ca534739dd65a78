package gears_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
	"cogledger/ingest/ride"
)

// TestWrongProfiles types forty profiles wrong, in one to four cogs that the ride
// used, in a ring or in the tyre, and forty right. What is wrong must be named
// with what would fit.
func TestWrongProfiles(t *testing.T) {
	found, cured, alarms := 0, 0, 0
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 31))
		right := wrongBikes()[seed%4]
		s := setups()[[]string{"wheel sensor", "no power", "satellite"}[seed%3]]
		r, truth := madeRide(right, s, 3600, 100+seed)
		if seed%5 == 4 { // four per cent is meant of the tyre that rolled
			r, truth = madeRideOn(right, s, 3600, 100+seed)
		}
		if f := inferred(t, r, right); f.Mismatch.Found {
			alarms++
			t.Logf("seed %d: right profile contradicted: %+v", seed, f.Mismatch)
		}
		typed, cure := mistyped(right, truth, seed, rng)
		f := inferred(t, r, typed)
		if f.Mismatch.Found {
			found++
		}
		if f.Mismatch.Found && cure(f.Mismatch) {
			cured++
			continue
		}
		t.Logf("seed %d: %v x %v on %.0f typed as %v x %v on %.0f: found %v, %q", seed,
			right.Drivetrain.Chainrings, right.Drivetrain.Cogs, 1000*right.Circumference(),
			typed.Drivetrain.Chainrings, typed.Drivetrain.Cogs, 1000*typed.Circumference(), f.Mismatch.Found, f.Mismatch.Cure)
	}
	t.Logf("of 40 wrong profiles %d found, %d named with the right cure; %d false alarms of 40", found, cured, alarms)
	// Where 34/15 and 50/22 are one ratio, more than one cassette fits.
	if found < 38 || cured < 36 || alarms > 1 {
		t.Errorf("want at least 38, at least 36 and at most 1")
	}
}

// TestWrongProfileCoarse has a sample every five seconds, as some apps write.
func TestWrongProfileCoarse(t *testing.T) {
	found, alarms := 0, 0
	for seed := range uint64(12) {
		p := wrongBikes()[seed%4]
		r, _ := madeRideOn(p, setups()["wheel sensor"], 5400, 300+seed)
		coarse(r, 5)
		if f := inferred(t, r, p); f.Mismatch.Found {
			alarms++
			t.Logf("seed %d, right: %+v", seed, f.Mismatch)
		}
		wrong := *p
		wrong.Drivetrain.Chainrings = slices.Clone(p.Drivetrain.Chainrings)
		for k := range wrong.Drivetrain.Chainrings {
			wrong.Drivetrain.Chainrings[k] += 6
		}
		if f := inferred(t, r, &wrong); f.Mismatch.Found {
			found++
		} else {
			t.Logf("seed %d, six teeth more at the front: not found", seed)
		}
	}
	t.Logf("of 12 wrong profiles %d found; %d false alarms of 12", found, alarms)
	if found < 11 || alarms > 1 {
		t.Error("want at least 11 and at most 1")
	}
}

// coarse keeps one second in every few and joins them by straight lines.
func coarse(r *ride.Ride, every int) {
	for _, c := range []ride.Channel{ride.Speed, ride.CadenceRPM, ride.RiderPower} {
		column := slices.Clone(r.Column(c))
		if column == nil {
			continue
		}
		for i := range column {
			from := i - i%every
			to := min(from+every, len(column)-1)
			if part := float64(i-from) / float64(every); part > 0 {
				column[i] = column[from]*(1-part) + column[to]*part
			}
		}
		r.SetColumn(c, column, nil, ride.WheelSensor)
	}
}

func wrongBikes() []*bike.Profile {
	b := benchBikes()
	return []*bike.Profile{single(), b["34/50"], b["46/30"], b["1x12"]}
}

func inferred(t *testing.T, r *ride.Ride, p *bike.Profile) *gears.Inference {
	t.Helper()
	f, err := gears.Infer(r, p, gears.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// usedCogs are the positions of the cogs ridden for three minutes or more, from
// the largest.
func usedCogs(truth []int, rungs int) (used []int) {
	seconds := make([]int, rungs)
	for _, g := range truth {
		seconds[g%rungs]++
	}
	for k, n := range seconds {
		if n >= 180 {
			used = append(used, k)
		}
	}
	return used
}

// mistyped is the profile with an error, and what cures it.
func mistyped(right *bike.Profile, truth []int, seed uint64, rng *rand.Rand) (*bike.Profile, func(gears.Mismatch) bool) {
	p := *right
	d := &p.Drivetrain
	rungs := len(d.Cogs)
	used := usedCogs(truth, rungs)
	d.Cogs, d.Chainrings = slices.Clone(d.Cogs), slices.Clone(d.Chainrings)
	switch seed % 5 {
	case 3:
		onSmall := 0 // of a ring that was hardly ridden nothing can be told
		for _, g := range truth {
			if g < rungs {
				onSmall++
			}
		}
		k := 0
		if len(d.Chainrings) > 1 && onSmall < len(truth)/2 {
			k = 1
		}
		d.Chainrings[k] += 3 + rng.IntN(2)
		return &p, func(m gears.Mismatch) bool {
			if len(m.Chainrings) != len(d.Chainrings) {
				return false
			}
			if len(m.Chainrings) == 1 { // with the tyre, which is not known to a tooth
				return math.Abs(float64(m.Chainrings[0]-right.Drivetrain.Chainrings[0])) <= 1
			}
			return slices.Equal(m.Chainrings, right.Drivetrain.Chainrings)
		}
	case 4:
		p.Wheel.RolloutMM *= 1.04
		return &p, func(m gears.Mismatch) bool {
			off := m.Circumference / right.Circumference()
			return off > 0.98 && off < 1.02
		}
	}
	slices.Sort(d.Cogs)
	slices.Reverse(d.Cogs)
	var wrong []int
	want := 1 + int(seed/5)%4
	for _, i := range rng.Perm(len(used)) {
		cog := d.Cogs[used[i]]
		for _, by := range []int{1, -1, 2, -2} {
			if len(wrong) < want && cog < 30 && !slices.Contains(d.Cogs, cog+by) && !slices.Contains(right.Drivetrain.Cogs, cog+by) && cog+by >= 10 {
				d.Cogs[used[i]] = cog + by
				wrong = append(wrong, cog)
				break
			}
		}
	}
	return &p, func(m gears.Mismatch) bool {
		for _, cog := range wrong {
			if !slices.Contains(m.Cogs, cog) {
				return false
			}
		}
		return true
	}
}
