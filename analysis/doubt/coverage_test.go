package doubt_test

import (
	"math"
	"os"
	"testing"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/made"
)

// Each ride is made by the forward simulator on a bike drawn from the
// profile's tolerances, sensors included, and reviewed with the profile itself.
// The 90 % intervals of battery energy, lugging loss and the plan's saving must
// hold the truth in 85 to 95 rides of a hundred, with volts and amperes in the
// log and without. The truth comes from the simulator, which shares no formula
// with the analysis.
//
// COGLEDGER_COVERAGE=1 tries 200 rides of each kind against those bounds. The
// normal run tries fewer, whose bounds are where 998 of a thousand such samples
// lie (binomial, nine in ten).
func TestIntervalsHoldTheTruthAsOftenAsTheySay(t *testing.T) {
	rides, least, most := 50, 38, 49
	switch {
	case os.Getenv("COGLEDGER_COVERAGE") != "":
		rides, least, most = 200, 170, 190
	case testing.Short():
		rides, least, most = 20, 12, 20
	}
	for name, told := range map[string]made.Told{"volts and amperes logged": made.ToldAll, "nothing of the motor logged": made.ToldNothing} {
		t.Run(name, func(t *testing.T) {
			c := covered{names: []string{"battery energy", "lugging loss", "plan's saving"}}
			claimed := 0 // rides that show a motor: the others make no claim to be wrong
			for seed := uint64(1000); claimed < rides && seed < uint64(1000+4*rides); seed++ {
				figures, truth := reviewedAndTrue(t, seed, told)
				if !math.IsNaN(figures[0].Value) {
					claimed++
					c.add(figures, truth)
				}
			}
			if claimed < rides {
				t.Fatalf("%d rides claim anything, want %d", claimed, rides)
			}
			for i, what := range c.names {
				held := c.held[i]
				t.Logf("%s: held in %d of %d rides; mean half width %.3f Wh, mean error %+.3f Wh", what, held, rides, c.width[i]/float64(rides), c.miss[i]/float64(rides))
				if held < least || held > most {
					t.Errorf("%s: held in %d of %d rides, want %d to %d", what, held, rides, least, most)
				}
			}
		})
	}
}

// reviewedAndTrue are the figures of one made ride's review and what they were.
func reviewedAndTrue(t *testing.T, seed uint64, told made.Told) (figures []doubt.Figure, truth []float64) {
	t.Helper()
	p := bike.Example()
	errand := made.Errand(course, seed, 7)
	errand.Told = told
	m := made.Simulate(made.Drawn(p, seed), errand, made.Lugger(), seed)
	r, err := m.Tracks[0].Ride()
	if err != nil {
		t.Fatal(err)
	}
	res, err := analysis.Review(r, p, analysis.Options{SkipReplays: true})
	if err != nil {
		t.Fatal(err)
	}
	again, err := m.Replay(res.Plan.Gear)
	if err != nil {
		t.Fatal(err)
	}
	h := res.Headline
	return []doubt.Figure{h.BatteryWh, h.LuggingLossWh, h.PlanSavingWh},
		[]float64{m.Truth.TerminalWh(), m.Truth.LuggingWh(), m.Truth.TerminalWh() - again.TerminalWh}
}

var course = made.CoastRoad()

// covered counts how often intervals held the truth.
type covered struct {
	names       []string
	held        [3]int
	width, miss [3]float64
}

func (c *covered) add(figures []doubt.Figure, truth []float64) {
	for i, f := range figures {
		if f.Low <= truth[i] && truth[i] <= f.High {
			c.held[i]++
		}
		c.width[i] += (f.High - f.Low) / 2
		c.miss[i] += f.Value - truth[i]
	}
}
