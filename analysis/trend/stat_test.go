package trend

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// meanScore is a score whose value is the plain mean over rides.
func meanScore(values []float64) *score {
	s := &score{key: "mean", scale: 1, overlap: 1, margin: 1, observed: values, expected: make([]float64, len(values))}
	for i := range s.expected {
		s.expected[i] = 1
	}
	return s
}

// Mouse survival, Efron & Tibshirani 1993, An Introduction to the Bootstrap,
// table 2.1 and section 15.2, from memory: seven treated, nine untreated mice.
// Standard errors of the means 25.24 and 14.14 (computed from the data),
// chance by permutation 0.132 one-sided.
var treated = []float64{94, 197, 16, 38, 99, 141, 23}
var untreated = []float64{52, 104, 146, 10, 51, 30, 40, 27, 46}

func TestMice(t *testing.T) {
	s := meanScore(append(append([]float64(nil), treated...), untreated...))
	o := Options{Resamples: 40_000, Seed: 1}

	spread := func(x []float64) float64 {
		mean, m2 := 0.0, 0.0
		for _, v := range x {
			mean += v
		}
		mean /= float64(len(x))
		for _, v := range x {
			m2 += (v - mean) * (v - mean)
		}
		return math.Sqrt(m2 / float64(len(x)))
	}
	for _, c := range []struct {
		name  string
		rides []int
		want  float64
	}{{"treated", span(0, 7), 25.24}, {"untreated", span(7, 16), 14.14}} {
		got := resample(s, c.rides, o, 1)
		if se := spread(got.draws); math.Abs(se-c.want) > 0.4 {
			t.Errorf("%s: standard error of the mean %.2f, want %.2f", c.name, se, c.want)
		}
	}

	ch := compare(s, 7, 16, o)
	if want := -30.63; math.Abs(ch.Difference.Value-want) > 0.01 {
		t.Errorf("difference %.2f, want %.2f", ch.Difference.Value, want)
	}
	if !ch.Difference.HoldsZero() {
		t.Errorf("interval %.1f to %.1f holds no zero", ch.Difference.Low, ch.Difference.High)
	}
	// Two-sided here, hence twice the book's; theirs are 1000 random deals.
	if p := shuffle([]*score{s}, 16, 7, o)[0]; math.Abs(p-2*0.132) > 0.03 {
		t.Errorf("chance %.3f, want about %.3f", p, 2*0.132)
	}
}

// Quantiles of Student's t as in any printed table: t(0.95; 4) = 2.132,
// t(0.95; 8) = 1.860; the normal's tail beyond them.
func TestExpandedTail(t *testing.T) {
	for _, c := range []struct {
		freedom int
		t       float64
	}{{4, 2.132}, {8, 1.860}, {30, 1.697}} {
		want := distuv.UnitNormal.CDF(-c.t)
		if got := expandedTail(c.freedom); math.Abs(got-want) > 2e-4 {
			t.Errorf("%d degrees: tail %.5f, want %.5f", c.freedom, got, want)
		}
	}
}

// All deals are tried where they are few: 10 choose 5 is 252.
func TestDeals(t *testing.T) {
	deals := deal(10, 5, Options{})
	if len(deals) != 252 {
		t.Errorf("%d deals, want 252", len(deals))
	}
	if n := len(deal(40, 20, Options{})); n != mostSplits {
		t.Errorf("%d random deals, want %d", n, mostSplits)
	}
	for j, d := range deals {
		n := 0
		for _, first := range d {
			if first {
				n++
			}
		}
		if n != 5 {
			t.Fatalf("deal %d has %d rides in the first group", j, n)
		}
	}
}

// Two groups that do not overlap at all: of 252 deals only the real one and
// its mirror are as striking.
func TestClearestChance(t *testing.T) {
	s := meanScore([]float64{9, 8, 9.5, 8.5, 9.2, 1, 2, 1.5, 2.5, 1.2})
	if p := shuffle([]*score{s}, 10, 5, Options{})[0]; math.Abs(p-2.0/252) > 1e-12 {
		t.Errorf("chance %g, want %g", p, 2.0/252)
	}
}

// The interval of the difference of two means is to hold the truth in nine of
// ten cases, also with few and skewed rides.
func TestIntervalHoldsTruth(t *testing.T) {
	trials := 800
	if testing.Short() {
		trials = 300
	}
	for _, c := range []struct {
		name   string
		na, nb int
		draw   func(*rand.Rand) float64
		low    float64
	}{
		{"normal, 5 and 5", 5, 5, (*rand.Rand).NormFloat64, 0.86},
		{"normal, 4 and 12", 4, 12, (*rand.Rand).NormFloat64, 0.85},
		{"exponential, 6 and 6", 6, 6, (*rand.Rand).ExpFloat64, 0.84},
	} {
		rng := rand.New(rand.NewPCG(7, 7))
		held := 0
		for k := range trials {
			values := make([]float64, c.na+c.nb)
			for i := range values {
				values[i] = c.draw(rng)
			}
			d := compare(meanScore(values), c.na, c.na+c.nb, Options{Resamples: 400, Seed: uint64(k)}).Difference
			if d.HoldsZero() {
				held++
			}
		}
		share := float64(held) / float64(trials)
		t.Logf("%s: %.3f", c.name, share)
		noise := 3 * math.Sqrt(0.9*0.1/float64(trials))
		if share < c.low-noise || share > 0.97+noise {
			t.Errorf("%s: interval holds the truth in %.3f of cases, want about 0.9", c.name, share)
		}
	}
}
