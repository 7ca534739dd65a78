package shifts

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// TestBestEqualsBruteForce compares the dynamic program with a search of every
// path on 500 random cases, all features drawn at random.
func TestBestEqualsBruteForce(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 11))
	var planner Planner
	for n := range 500 {
		p, price := randomProblem(rng)
		want, open := bruteForce(p, price)
		got, err := planner.Best(p, price)
		if !open {
			if err == nil {
				t.Fatalf("case %d: a path of cost %g where none is open", n, got.Cost)
			}
			continue
		}
		if err != nil {
			t.Fatalf("case %d: %v", n, err)
		}
		if math.Abs(got.Cost-want) > 1e-6 {
			t.Fatalf("case %d: cost %g, brute force %g\n%+v", n, got.Cost, want, p)
		}
		if !allowed(p, got.Gear) {
			t.Fatalf("case %d: path %v breaks the rules of %+v", n, got.Gear, p)
		}
		if priced := pathCost(p, got.Gear, price); math.Abs(priced-got.Cost) > 1e-6 {
			t.Fatalf("case %d: path %v costs %g, not %g", n, got.Gear, priced, got.Cost)
		}
		if n := p.Changes(got.Gear); n != got.Shifts {
			t.Fatalf("%d shifts told, %d made", got.Shifts, n)
		}
	}
}

func randomProblem(rng *rand.Rand) (Problem, float64) {
	p := Problem{Seconds: 1 + rng.IntN(6), Gears: 1 + rng.IntN(5), LeastDwell: rng.IntN(5)}
	p.Cost = make([]float32, p.Seconds*p.Gears)
	for i := range p.Cost {
		p.Cost[i] = float32(rng.NormFloat64() * 10)
		if rng.Float64() < 0.15 {
			p.Cost[i] = float32(math.Inf(1))
		}
	}
	if rng.IntN(2) == 0 {
		p.Weight = make([]float32, p.Seconds)
		for i := range p.Weight {
			p.Weight[i] = []float32{0, 0.25, 1, float32(math.Inf(1))}[rng.IntN(4)]
		}
	}
	p.PerCog = rng.IntN(2) == 0
	if p.Gears%2 == 0 && rng.IntN(2) == 0 {
		p.Rings, p.RingFactor = 2, 1+rng.Float64()*2
	}
	if rng.IntN(2) == 0 {
		p.Reach = make([]uint8, p.Seconds)
		for i := range p.Reach {
			p.Reach[i] = uint8(rng.IntN(4))
		}
	}
	if rng.IntN(3) > 0 {
		p.Ridden = make([]int, p.Seconds)
		gear := rng.IntN(p.Gears)
		for s := range p.Ridden {
			if rng.IntN(2) == 0 {
				gear = rng.IntN(p.Gears)
			}
			p.Ridden[s] = gear
		}
	}
	return p, []float64{0, 1, 5, 20}[rng.IntN(4)]
}

func bruteForce(p Problem, price float64) (best float64, open bool) {
	best = math.Inf(1)
	path := make([]int, p.Seconds)
	for {
		if allowed(p, path) {
			best = min(best, pathCost(p, path, price))
		}
		k := 0
		for ; k < p.Seconds; k++ {
			if path[k]++; path[k] < p.Gears {
				break
			}
			path[k] = 0
		}
		if k == p.Seconds {
			return best, !math.IsInf(best, 1)
		}
	}
}

// allowed states the rules of a path anew, independent of the planner.
func allowed(p Problem, path []int) bool {
	var shifts []int
	for s := range path {
		if math.IsInf(float64(p.Cost[s*p.Gears+path[s]]), 1) {
			return false
		}
		if s > 0 && path[s] != path[s-1] {
			if p.Weight != nil && math.IsInf(float64(p.Weight[s]), 1) && !riderShifted(p, path, s) {
				return false
			}
			if p.Reach != nil && p.moved(path[s-1], path[s]) > int(p.Reach[s]) && !riderShifted(p, path, s) {
				return false
			}
			shifts = append(shifts, s)
		}
	}
	for k := 1; k < len(shifts); k++ {
		from, to := shifts[k-1], shifts[k]
		if to-from >= p.LeastDwell {
			continue
		}
		if p.Ridden == nil || !slices.Equal(path[from:to+1], p.Ridden[from:to+1]) || p.Ridden[from-1] == p.Ridden[from] {
			return false
		}
	}
	return true
}

func riderShifted(p Problem, path []int, s int) bool {
	return p.Ridden != nil && p.Ridden[s] == path[s] && p.Ridden[s-1] == path[s-1]
}

func pathCost(p Problem, path []int, price float64) float64 {
	sum := 0.0
	for s, g := range path {
		sum += float64(p.Cost[s*p.Gears+g])
		if s > 0 && g != path[s-1] {
			w := p.weight(s, riderShifted(p, path, s))
			sum += price * w * p.between(path[s-1], g)
		}
	}
	return sum
}

func TestWithinMeetsTheLimit(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 5))
	p := Problem{Seconds: 2000, Gears: 8, LeastDwell: 4, Cost: make([]float32, 16000)}
	for s := range p.Seconds {
		ideal := 4 + 4*math.Sin(float64(s)/15) + rng.NormFloat64()
		for g := range p.Gears {
			p.Cost[s*p.Gears+g] = float32(10 * math.Pow(float64(g)-ideal, 2))
		}
	}
	var planner Planner
	last := math.MaxInt
	for _, most := range []int{1000, 200, 100, 40, 10, 1, 0} {
		path, err := planner.Within(p, 5, most)
		if err != nil {
			t.Fatal(err)
		}
		if path.Shifts > most || path.Shifts > last {
			t.Errorf("limit %d: %d shifts, before it %d", most, path.Shifts, last)
		}
		last = path.Shifts
		if got := pathCost(p, path.Gear, path.Price); math.Abs(got-path.Cost) > 1e-6*got {
			t.Errorf("limit %d: path costs %g, told %g", most, got, path.Cost)
		}
	}
}

func TestBestRefusesWhatIsNoProblem(t *testing.T) {
	var planner Planner
	for name, p := range map[string]Problem{
		"no gears":    {Seconds: 1},
		"short costs": {Seconds: 2, Gears: 2, Cost: make([]float32, 3)},
		"no open gear": {Seconds: 2, Gears: 1, Cost: []float32{
			1, float32(math.Inf(1))}},
	} {
		if _, err := planner.Best(p, 1); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	if _, err := planner.Best(Problem{Seconds: 1, Gears: 1, Cost: []float32{1}}, math.NaN()); err == nil {
		t.Error("a price that is not a number: no error")
	}
}

func BenchmarkBest3Hours24Gears(b *testing.B) {
	rng := rand.New(rand.NewPCG(3, 5))
	const seconds, gears = 3 * 3600, 24
	p := Problem{Seconds: seconds, Gears: gears, LeastDwell: 4, Cost: make([]float32, seconds*gears)}
	for s := range seconds {
		ideal := 12 + 10*math.Sin(float64(s)/40) + rng.NormFloat64()
		for g := range gears {
			p.Cost[s*gears+g] = float32(300 + 2*math.Pow(float64(g)-ideal, 2))
		}
	}
	for _, rings := range []int{1, 2} {
		p.Rings, p.PerCog = rings, true
		b.Run(fmt.Sprintf("best/rings=%d", rings), func(b *testing.B) {
			var planner Planner
			for b.Loop() {
				if _, err := planner.Best(p, 60); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(fmt.Sprintf("within/rings=%d", rings), func(b *testing.B) {
			var planner Planner
			for b.Loop() {
				if _, err := planner.Within(p, 60, 100); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
