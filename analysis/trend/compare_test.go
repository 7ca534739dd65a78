package trend

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// A habitude is how a simulated rider lugs: the share of loaded seconds in
// each condition, and what a lugged second costs.
type habitude struct {
	lugging  float64 // on the flat; more where it climbs
	tall     float64 // chance of a start in a tall gear
	hilliest float64 // largest share of a ride that climbs
}

// simulate draws one ride. Rides differ: each has its own ground and its own
// day's form.
func (h habitude) simulate(rng *rand.Rand) Ride {
	r := Ride{Name: "made", Distance: 4000 + 12000*rng.Float64(), Ascent: math.NaN()}
	climbing := h.hilliest * rng.Float64()
	form := math.Exp(0.35 * rng.NormFloat64())
	seconds := r.Distance / 5
	put := func(cell *Cell, share, lug, watts float64) {
		n := math.Round(seconds * share)
		cell.Loaded = n
		p := min(0.95, lug*form)
		for range int(n / 10) { // lugging comes in stretches of ten seconds
			if rng.Float64() < p {
				cell.Lugging += 10
			}
		}
		cell.BestWh = n * watts / 3600
		cell.Wh = (n + 0.15*cell.Lugging) * watts / 3600
		r.MeteredWh += cell.Wh
	}
	put(&r.Cells[condition(0, 80, 99)], 0.5*(1-climbing), h.lugging, 90)
	put(&r.Cells[condition(0, 150, 99)], 0.3*(1-climbing), 1.5*h.lugging, 190)
	put(&r.Cells[condition(0.05, 300, 99)], climbing, 3*h.lugging, 420)
	put(&r.Cells[0], 0.05, 2*h.lugging, 250)
	r.MeteredMetres = r.Distance
	starts := 4 + rng.IntN(12)
	count := 0.0
	for range starts {
		if rng.Float64() < h.tall*form {
			count++
		}
	}
	r.Habits = []Rate{{"tall-gear start", count, float64(starts), r.Distance / 1000}, {"rare fault", float64(rng.IntN(20) / 19), 0, r.Distance / 1000}}
	return r
}

func (h habitude) week(rng *rand.Rand, rides int) []Ride {
	week := make([]Ride, rides)
	for i := range week {
		week[i] = h.simulate(rng)
	}
	return week
}

// Weeks without change, flat against hilly: at most one comparison in twenty
// may call any of its figures changed. The bound is the method's own nominal
// rate; allow three standard errors.
func TestNoChangeIsSeldomCalled(t *testing.T) {
	pairs := 400
	if testing.Short() {
		pairs = 200
	}
	flat, hilly := habitude{0.12, 0.3, 0.2}, habitude{0.12, 0.3, 0.6}
	for _, c := range []struct {
		name  string
		after habitude
	}{{"same ground", flat}, {"hillier week", hilly}} {
		rng := rand.New(rand.NewPCG(11, 3))
		called := 0
		for k := range pairs {
			if changed(Compare(flat.week(rng, 6), c.after.week(rng, 6), Options{Resamples: 400, Seed: uint64(k)})) {
				called++
			}
		}
		share := float64(called) / float64(pairs)
		t.Logf("%s: called in %.3f of pairs", c.name, share)
		if most := callAt + 3*math.Sqrt(callAt*(1-callAt)/float64(pairs)); share > most {
			t.Errorf("%s: a change is called in %.3f of the pairs without one, at most %.3f is right", c.name, share, most)
		}
	}
}

func changed(c Comparison) bool {
	for _, ch := range c.Changes {
		if ch.Verdict == Improved || ch.Verdict == Worse {
			return true
		}
	}
	return false
}

// A rider who learns to shift is found, also when the second week is hillier,
// so that the plain energy a kilometre has risen.
func TestPlantedChangeIsFound(t *testing.T) {
	before, after := habitude{0.22, 0.6, 0.3}, habitude{0.05, 0.1, 0.5}
	rng := rand.New(rand.NewPCG(5, 8))
	found, rose := 0, 0
	const pairs = 40
	for k := range pairs {
		c := Compare(before.week(rng, 7), after.week(rng, 7), Options{Resamples: 400, Seed: uint64(k)})
		lug, _ := c.Change(LuggingShare)
		if lug.Verdict == Improved {
			found++
		}
		if lug.Verdict == Worse {
			t.Errorf("pair %d: called worse", k)
		}
		if c.After.WhPerKm > c.Before.WhPerKm {
			rose++
		}
	}
	if found < pairs*9/10 {
		t.Errorf("planted change found in %d of %d pairs", found, pairs)
	}
	if rose < pairs/2 {
		t.Errorf("the plain energy a kilometre rose in %d of %d pairs only: the test does not test", rose, pairs)
	}
}

// Indirect standardisation by hand. Side A: 100 s flat with 10 lugging, 100 s
// climbing with 40; side B: 300 s flat with 30, 100 s climbing with 40. Rates
// are the same on both sides, 0.1 and 0.4; pooled share 120/600 = 0.2. The
// plain shares are 0.25 and 0.175; corrected, both are 0.2.
func TestStandardisedByHand(t *testing.T) {
	flat, climb := condition(0, 150, 99), condition(0.05, 150, 99)
	var a, b Ride
	a.Cells[flat], a.Cells[climb] = Cell{Loaded: 100, Lugging: 10}, Cell{Loaded: 100, Lugging: 40}
	b.Cells[flat], b.Cells[climb] = Cell{Loaded: 300, Lugging: 30}, Cell{Loaded: 100, Lugging: 40}
	s := luggingScore([]Ride{a, b}, 1)
	if va, vb := s.of([]int{0}), s.of([]int{1}); math.Abs(va-0.2) > 1e-12 || math.Abs(vb-0.2) > 1e-12 {
		t.Errorf("corrected shares %.4f and %.4f, want 0.2 and 0.2", va, vb)
	}
	if want := 0.75; math.Abs(s.overlap-want) > 1e-12 { // min(.5,.75)+min(.5,.25)
		t.Errorf("overlap %.3f, want %.3f", s.overlap, want)
	}
}

// Where the two sides share no ground nothing can be told, least of all that
// nothing has changed.
func TestDifferentGroundIsNotCompared(t *testing.T) {
	side := func(cond int, lug float64) []Ride {
		rides := make([]Ride, 6)
		for i := range rides {
			rides[i].Distance = 5000
			rides[i].Cells[cond] = Cell{Loaded: 500, Lugging: lug + float64(i), Wh: 50, BestWh: 48}
		}
		return rides
	}
	c := Compare(side(condition(0, 50, 99), 20), side(condition(0.08, 400, 99), 300), Options{})
	if len(c.Changes) == 0 || len(c.Notes) == 0 {
		t.Fatalf("%d changes, %d notes", len(c.Changes), len(c.Notes))
	}
	for _, ch := range c.Changes {
		if ch.Verdict != CannotTell {
			t.Errorf("%s: %s (%.3f to %.3f)", ch.Key, ch.Verdict, ch.Before.Value, ch.After.Value)
		}
	}
}

func TestFewRidesAreNotJudged(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	good, bad := habitude{0.02, 0.1, 0.3}, habitude{0.3, 0.8, 0.3}
	for _, n := range []int{0, 1, 2, 3} {
		c := Compare(bad.week(rng, n), good.week(rng, n), Options{})
		if changed(c) {
			t.Errorf("a change is called from %d rides on each side", n)
		}
		if len(c.Notes) == 0 {
			t.Errorf("%d rides on each side: nothing is said", n)
		}
	}
}

// Nothing logged that tells anything: no figure, no panic, no zero in its place.
func TestNothingTold(t *testing.T) {
	c := Compare(make([]Ride, 5), make([]Ride, 5), Options{})
	for _, ch := range c.Changes {
		t.Errorf("%s: %v", ch.Key, ch.Difference)
	}
	if !math.IsNaN(c.Before.WhPerKm) {
		t.Errorf("energy a kilometre %g", c.Before.WhPerKm)
	}
}

func TestSameSeedSameAnswer(t *testing.T) {
	h := habitude{0.1, 0.3, 0.4}
	rng := rand.New(rand.NewPCG(2, 2))
	a, b := h.week(rng, 6), h.week(rng, 9)
	first, second := Compare(a, b, Options{Seed: 4}), Compare(a, b, Options{Seed: 4})
	if d := cmp.Diff(first, second, cmpopts.EquateNaNs()); d != "" {
		t.Error(d)
	}
}

func TestWeeks(t *testing.T) {
	h := habitude{0.1, 0.3, 0.4}
	rng := rand.New(rand.NewPCG(9, 9))
	var rides []Ride
	// 4 January 2026 is a Sunday, 5 January a Monday (ISO 8601).
	for _, day := range []int{4, 5, 6, 11, 12, 26} {
		r := h.simulate(rng)
		r.Start = time.Date(2026, 1, day, 23, 59, 0, 0, time.UTC)
		rides = append(rides, r)
	}
	rides = append(rides, h.simulate(rng))
	tr := Weeks(rides, Options{Resamples: 200})
	var got [][2]int
	for _, w := range tr.Weeks {
		got = append(got, [2]int{w.Monday.YearDay(), w.Rides})
	}
	want := [][2]int{{363, 1}, {5, 3}, {12, 1}, {26, 1}} // 29 December 2025 is day 363
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if tr.Undated != 1 || len(tr.Notes) != 1 {
		t.Errorf("%d undated, %d notes", tr.Undated, len(tr.Notes))
	}
	if tr.Latest == nil || tr.Latest.After.Rides != 1 || tr.Latest.Before.Rides != 5 {
		t.Errorf("latest: %+v", tr.Latest)
	}
	if w := tr.Weeks[1]; !(w.Lugging.Low <= w.Lugging.Value && w.Lugging.Value <= w.Lugging.High) {
		t.Errorf("week of three rides: %+v", w.Lugging)
	}
	if w := tr.Weeks[0]; !math.IsNaN(w.Lugging.Low) {
		t.Errorf("a week of one ride has an interval: %+v", w.Lugging)
	}
}
