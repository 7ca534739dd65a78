package coach

import (
	"bytes"
	"fmt"
	"math"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/made"
	"cogledger/analysis/trend"
)

// madeWeeks are two reviewed weeks: the first of a rider who lugs, the second
// of one who has learnt to shift.
var madeWeeks = sync.OnceValues(func() (before, after *analysis.Set) {
	return review(1, made.Lugger()), review(2, made.Shifter())
})

func review(seed uint64, rider made.Rider) *analysis.Set {
	p := bike.Example()
	var results []*analysis.Result
	for _, m := range made.Week(p, made.Options{Seed: seed, Riders: []made.Rider{rider}}) {
		r, err := m.Tracks[0].Ride()
		if err != nil {
			panic(err)
		}
		res, err := analysis.Review(r, p, analysis.Options{SkipReplays: true})
		if err != nil {
			panic(err)
		}
		results = append(results, res)
	}
	return analysis.Together(results)
}

func write(t *testing.T, set *analysis.Set, c *trend.Comparison, o Options) string {
	t.Helper()
	var b bytes.Buffer
	if err := HTML(&b, set, c, o); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// What every page must keep to: no number without a value, three pictures at
// most, no address of the network, a policy that admits its own style alone.
func TestPageHoldsToItsRules(t *testing.T) {
	before, after := madeWeeks()
	c := analysis.Compare(before.Rides, after.Rides, trend.Options{})
	for _, set := range []*analysis.Set{before, after} {
		for _, c := range []*trend.Comparison{nil, &c} {
			for _, o := range []Options{{}, {Paper: Letter, Imperial: true, Now: time.Date(2026, 6, 8, 0, 0, 0, 0, time.UTC)}} {
				page := write(t, set, c, o)
				for _, bad := range []string{"NaN", "Inf", "%!", "not known", "http://", "https://", "<script", "style=\"", "ZgotmplZ"} {
					if strings.Contains(page, bad) {
						t.Errorf("%v: the page holds %q", o, bad)
					}
				}
				if n := strings.Count(page, "<figure>"); n < 1 || n > 3 {
					t.Errorf("%v: %d pictures", o, n)
				}
				if n := strings.Count(page, "<li>"); n > mostSteps {
					t.Errorf("%v: %d things to do", o, n)
				}
				if !strings.Contains(page, "made by simulation") {
					t.Errorf("%v: the page does not say that its rides are made", o)
				}
				want := "@page{size:A4;"
				if o.Paper == Letter {
					want = "@page{size:Letter;"
				}
				if !strings.Contains(page, want) {
					t.Errorf("%v: no %s", o, want)
				}
				if (c != nil) != strings.Contains(page, "What has changed") {
					t.Errorf("%v: comparison %v", o, c != nil)
				}
			}
		}
	}
}

// The planted change is called, in the main figure and in its direction; the
// rider who lugs is told what to do, the one who shifts well is left in peace.
func TestMadeRidersGetTheirOwnPage(t *testing.T) {
	before, after := madeWeeks()
	c := analysis.Compare(before.Rides, after.Rides, trend.Options{})
	lug, ok := c.Change(trend.LuggingShare)
	if !ok || lug.Verdict != trend.Improved {
		t.Fatalf("lugging share: %+v", lug)
	}
	if n := strings.Count(write(t, before, nil, Options{}), "<li>"); n == 0 {
		t.Error("nothing to do for a rider who lugs")
	}
	page := write(t, after, &c, Options{})
	if !strings.Contains(page, "nothing worth changing") {
		t.Error("a rider who shifts well is not told that nothing is worth changing")
	}
	if !regexp.MustCompile(`Motor labouring[^\n]*called">improved<`).MatchString(page) {
		t.Error("the table does not call the change")
	}
}

// Names come from files; they are data.
func TestNamesAreEscapedAndCut(t *testing.T) {
	before, _ := madeWeeks()
	set := *before
	p := *set.Bike
	p.Name = `<script>alert(1)</script>` + strings.Repeat("x", 500)
	set.Bike = &p
	page := write(t, &set, nil, Options{})
	if strings.Contains(page, "<script") || strings.Contains(page, strings.Repeat("x", 60)) {
		t.Error("the bike's name is not escaped or not cut")
	}
}

// Where hardly any gear is known the page says so and gives no advice.
func TestUnknownGears(t *testing.T) {
	before, _ := madeWeeks()
	set := *before
	set.Rides = nil
	for _, res := range before.Rides {
		vague, inferred := *res, *res.Gears
		inferred.NamedSeconds = inferred.PedallingSeconds / 3
		vague.Gears = &inferred
		set.Rides = append(set.Rides, &vague)
	}
	set.Bears.Advice = analysis.Verdict{Why: "the gear is known in only 33 % of the pedalling"}
	page := write(t, &set, nil, Options{})
	if strings.Contains(page, "<li>") || strings.Contains(page, "worth changing") || !strings.Contains(page, "33 % of the pedalling") {
		t.Error("advice from gears that nobody knows")
	}
}

func TestNoRides(t *testing.T) {
	if err := HTML(&bytes.Buffer{}, &analysis.Set{}, nil, Options{}); err == nil {
		t.Error("a page without rides")
	}
}

func TestParsePaper(t *testing.T) {
	for name, want := range map[string]Paper{"": A4, "a4": A4, "A4": A4, "letter": Letter, "Letter": Letter} {
		if got, err := ParsePaper(name); err != nil || got != want {
			t.Errorf("%q: %q, %v", name, got, err)
		}
	}
	if _, err := ParsePaper("a5"); err == nil {
		t.Error("a5 is taken")
	}
}

func TestGearNames(t *testing.T) {
	one := gearWords{bike.Example().Gears()}
	two := *bike.Example()
	two.Drivetrain = bike.Drivetrain{Chainrings: []int{34, 50}, Cogs: []int{11, 13, 15, 17}}
	hub := *bike.Example()
	hub.Drivetrain = bike.Drivetrain{Chainrings: []int{38}, Cogs: []int{18}, HubGears: []float64{0.6, 1, 1.5}}
	for _, c := range []struct {
		gears gearWords
		index int
		want  string
	}{
		{one, 0, "the largest cog at the back (42 teeth)"},
		{one, 1, "the 2nd largest cog at the back (36 teeth)"},
		{one, 9, "the smallest cog at the back (11 teeth)"},
		{one, 7, "the 3rd smallest cog at the back (15 teeth)"},
		{one, -1, "an easier gear"},
		{gearWords{two.Gears()}, 0, "the largest cog at the back (17 teeth) with the small ring at the front"},
		{gearWords{two.Gears()}, 7, "the smallest cog at the back (11 teeth) with the big ring at the front"},
		{gearWords{hub.Gears()}, 1, "gear 2 of the hub"},
	} {
		if got := c.gears.name(c.index); got != c.want {
			t.Errorf("gear %d: %q, want %q", c.index, got, c.want)
		}
	}
}

func TestNumbers(t *testing.T) {
	for v, want := range map[float64]string{0: "0", 0.034: "0.03", 1.25: "1.2", 12: "12", 12.34: "12.3", 456.7: "457", -3.21: "−3.2"} {
		if got := number(v); got != want {
			t.Errorf("%g: %q, want %q", v, got, want)
		}
	}
	for _, c := range []struct {
		f    doubt.Figure
		want string
	}{
		{doubt.Figure{Value: 15.53, Low: 13.6, High: 18.31}, "16 (14–18)"},
		{doubt.Figure{Value: 6.999, Low: 6.97, High: 7.026}, "7.00 (6.97–7.03)"},
		{doubt.Figure{Value: -0.2, Low: -0.23, High: 0.01}, "−0.2 (−0.2 to 0.0)"},
		{doubt.Figure{Value: 3, Low: 3, High: 3}, "3.0"},
		{doubt.Figure{Value: 3, Low: math.NaN(), High: math.NaN()}, "3.0"},
		{doubt.Figure{Value: math.NaN()}, "not known"},
	} {
		if got := rounded(c.f, fixed); got != c.want {
			t.Errorf("%v: %q, want %q", c.f, got, c.want)
		}
	}
}

// Every habit that the analysis may name has words here.
func TestHabitsHaveWords(t *testing.T) {
	before, _ := madeWeeks()
	for _, h := range before.Habits {
		if toDo(h.Kind) == "" || habitName(h.Kind) == h.Kind {
			t.Errorf("%q has no words", h.Kind)
		}
	}
}

func ExampleParsePaper() {
	p, _ := ParsePaper("letter")
	fmt.Println(p)
	// Output: Letter
}
