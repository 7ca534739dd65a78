package gears_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"cogledger/analysis/gears"
)

// healthyFever is the textbook example of the Viterbi algorithm as an
// encyclopedia and many courses print it: states Healthy and Fever, start .6/.4,
// transitions .7 .3 / .4 .6, emissions of normal, cold, dizzy .5 .4 .1 / .1 .3 .6.
// As a chain it is one ring with two gears and a crank that never slips.
func healthyFever() (*gears.Chain, [][2]float64) {
	c := &gears.Chain{
		Rings: 1, Rungs: 2,
		Start: []float64{0.6, 0.4}, Leave: []float64{0.3, 0.4},
		RungDecay: 0.3, RingDecay: 0.6,
	}
	return c, [][2]float64{{0.5, 0.1}, {0.4, 0.3}, {0.1, 0.6}} // normal, cold, dizzy
}

func TestHealthyFever(t *testing.T) {
	c, seen := healthyFever()
	likelihood := func(allowed func(t, state int) bool) float64 {
		p := c.Smooth(len(seen), func(t int, s *gears.Sight) {
			for g := range s.Held {
				v := 0.0
				if allowed(t, g) {
					v = seen[t][g]
				}
				s.Held[g], s.Fresh[g], s.Slip[g] = v, v, 0
			}
			s.Steady, s.Grip, s.Pace = 1, 0, 1
		}, func(int, []float64, []float64) {})
		return math.Exp(p.LogLikelihood)
	}
	best, most, sum := 0, 0.0, 0.0
	for path := range 8 { // bit t is the state at t
		p := likelihood(func(t, state int) bool { return path>>t&1 == state })
		if sum += p; p > most {
			best, most = path, p
		}
	}
	if best != 0b100 || math.Abs(most-0.01512) > 1e-12 {
		t.Errorf("likeliest path %03b with probability %.6f, want Healthy, Healthy, Fever with 0.01512", best, most)
	}
	if all := likelihood(func(int, int) bool { return true }); math.Abs(all-sum) > 1e-12 {
		t.Errorf("all paths together %.8f, as one pass %.8f", sum, all)
	}
}

// TestSmoothAgainstDense holds the structured chain against forward-backward
// over its full matrix of transitions, written out state by state.
func TestSmoothAgainstDense(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.Float64Range(0.01, 0.99)
		c := &gears.Chain{
			Rings: rapid.IntRange(1, 3).Draw(t, "rings"), Rungs: rapid.IntRange(1, 5).Draw(t, "rungs"),
			RingShare: unit.Draw(t, "ring share"), RungDecay: unit.Draw(t, "rung decay"), RingDecay: unit.Draw(t, "ring decay"),
			Slip: unit.Draw(t, "slip"), After: unit.Draw(t, "after"),
		}
		n := c.Rings * c.Rungs
		for range n {
			c.Start = append(c.Start, 1/float64(n))
			c.Leave = append(c.Leave, unit.Draw(t, "leave"))
		}
		if n == 1 {
			c.Leave[0] = 0 // nowhere to go
		}
		holdAgainstDense(t, c, drawSights(n, rapid.IntRange(1, 12).Draw(t, "seconds"), func() float64 { return unit.Draw(t, "likelihood") }))
	})
}

// TestSmoothLong goes over the seams of a long ride.
func TestSmoothLong(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	c := &gears.Chain{
		Rings: 2, Rungs: 2,
		Start: []float64{0.1, 0.2, 0.3, 0.4}, Leave: []float64{0.001, 0.002, 0.003, 0.004},
		RingShare: 0.2, RungDecay: 0.3, RingDecay: 0.6, Slip: 0.001, After: 0.1,
	}
	for _, seconds := range []int{1023, 1024, 1025, 2048, 3000} {
		holdAgainstDense(t, c, drawSights(4, seconds, func() float64 { return 0.9 + 0.1*rng.Float64() }))
	}
}

func drawSights(gearCount, seconds int, unit func() float64) []gears.Sight {
	sights := make([]gears.Sight, seconds)
	for i := range sights {
		sights[i] = gears.Sight{Steady: unit(), Grip: unit(), Pace: unit()}
		for range gearCount {
			sights[i].Held = append(sights[i].Held, unit())
			sights[i].Fresh = append(sights[i].Fresh, unit())
			sights[i].Slip = append(sights[i].Slip, unit())
		}
	}
	return sights
}

func holdAgainstDense(t interface{ Fatalf(string, ...any) }, c *gears.Chain, sights []gears.Sight) {
	n := c.Rings * c.Rungs
	want, logLike := dense(c, sights)
	visited := len(sights)
	p := c.Smooth(len(sights), func(i int, s *gears.Sight) {
		copy(s.Held, sights[i].Held)
		copy(s.Fresh, sights[i].Fresh)
		copy(s.Slip, sights[i].Slip)
		s.Steady, s.Grip, s.Pace = sights[i].Steady, sights[i].Grip, sights[i].Pace
	}, func(i int, drive, slip []float64) {
		if visited--; i != visited {
			t.Fatalf("visited second %d after %d", i, visited+1)
		}
		for g := range n {
			if math.Abs(drive[g]-want[i][g]) > 1e-9 || math.Abs(slip[g]-want[i][n+g]) > 1e-9 {
				t.Fatalf("second %d gear %d: %g and %g, want %g and %g", i, g, drive[g], slip[g], want[i][g], want[i][n+g])
			}
		}
	})
	if visited != 0 {
		t.Fatalf("%d seconds not visited", visited)
	}
	if math.Abs(p.LogLikelihood-logLike) > 1e-9*math.Abs(logLike)+1e-9 {
		t.Fatalf("log-likelihood %g, want %g", p.LogLikelihood, logLike)
	}
}

// dense returns the probability of every state (driving gears, then slipping
// ones) at every second, and the log-likelihood.
func dense(c *gears.Chain, sights []gears.Sight) ([][]float64, float64) {
	n := c.Rings * c.Rungs
	states, seconds := 2*n, len(sights)
	forward, backward := make([][]float64, seconds), make([]float64, states)
	logLike := 0.0
	for t := range seconds {
		forward[t] = make([]float64, states)
		for to := range states {
			if t == 0 {
				forward[0][to] = c.Start[to%n] * c.After * sights[0].Slip[to%n]
				if to < n {
					forward[0][to] = c.Start[to] * (1 - c.After) * sights[0].Fresh[to]
				}
				continue
			}
			for from := range states {
				forward[t][to] += forward[t-1][from] * weight(c, &sights[t], from, to)
			}
		}
		logLike += math.Log(scaled(forward[t]))
	}
	for t := seconds - 1; t >= 0; t-- {
		earlier := make([]float64, states)
		for from := range states {
			if t == seconds-1 {
				earlier[from] = 1
				continue
			}
			for to := range states {
				earlier[from] += weight(c, &sights[t+1], from, to) * backward[to]
			}
		}
		backward = earlier
		scaled(backward)
		for s := range states {
			forward[t][s] *= backward[s]
		}
		scaled(forward[t])
	}
	return forward, logLike
}

// scaled divides by the sum, which it returns.
func scaled(p []float64) float64 {
	sum := 0.0
	for _, v := range p {
		sum += v
	}
	for i := range p {
		p[i] /= sum
	}
	return sum
}

// weight is the probability of a step between two states and of what is seen
// after it.
func weight(c *gears.Chain, s *gears.Sight, from, to int) float64 {
	n := c.Rings * c.Rungs
	a, b := from%n, to%n
	slipped, slips := from >= n, to >= n
	p := 0.0
	if a == b {
		stay := 1 - s.Pace*c.Leave[a]
		switch {
		case !slipped && !slips:
			p += stay * (1 - c.Slip) * s.Held[b]
		case !slipped:
			p += stay * c.Slip * s.Slip[b]
		case !slips:
			p += stay * s.Grip * s.Fresh[b]
		default:
			p += stay * (1 - s.Grip) * s.Steady * s.Slip[b]
		}
	}
	move := s.Pace * c.Leave[a] * kernel(c, a, b)
	if slips {
		return p + move*c.After*s.Slip[b]
	}
	return p + move*(1-c.After)*s.Fresh[b]
}

// kernel is the share of changes from one gear that go to another.
func kernel(c *gears.Chain, a, b int) float64 {
	along := func(x, y int) float64 {
		if x/c.Rungs != y/c.Rungs || x == y {
			return 0
		}
		return math.Pow(c.RungDecay, math.Abs(float64(x-y))-1)
	}
	across := func(x, y int) float64 {
		if d := x/c.Rungs - y/c.Rungs; d != 1 && d != -1 {
			return 0
		}
		return math.Pow(c.RingDecay, math.Abs(float64(x%c.Rungs-y%c.Rungs)))
	}
	sumAlong, sumAcross := 0.0, 0.0
	for g := range c.Rings * c.Rungs {
		sumAlong += along(a, g)
		sumAcross += across(a, g)
	}
	share := c.RingShare
	switch {
	case sumAcross == 0:
		share = 0
	case sumAlong == 0:
		share = 1
	}
	p := 0.0
	if sumAlong > 0 {
		p += (1 - share) * along(a, b) / sumAlong
	}
	if sumAcross > 0 {
		p += share * across(a, b) / sumAcross
	}
	return p
}
