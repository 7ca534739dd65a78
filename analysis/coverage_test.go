package analysis_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"
	"text/tabwriter"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/ledger"
	"cogledger/analysis/made"
)

// Each ride is made by the forward simulator on a bike drawn from the profile's
// tolerances, sensors included, by a rider between one who lugs and one who shifts
// well, and reviewed with the profile itself. The 90 % intervals of all that is
// told must hold the truth in 85 to 95 rides of a hundred, and miss on both sides.
// The truth comes from the simulator, which shares no formula with the analysis.
//
// COGLEDGER_COVERAGE=1 tries eight seeds of 50 rides of each kind against those
// bounds and prints the table. The normal run tries fewer, within what so few may be
// off.
func TestIntervalsHoldTheTruthAsOftenAsTheySay(t *testing.T) {
	seeds, rides, whole := uint64(8), 50, os.Getenv("COGLEDGER_COVERAGE") != ""
	switch {
	case whole:
	case testing.Short():
		seeds, rides = 1, 24
	default:
		seeds, rides = 2, 30
	}
	for _, told := range []struct {
		name string
		made.Told
	}{{"volts and amperes logged", made.ToldAll}, {"nothing of the motor logged", made.ToldNothing}} {
		t.Run(told.name, func(t *testing.T) {
			c := coverage{}
			for seed := range seeds {
				claimed := 0 // rides that bear a claim: the others cannot be wrong
				for k := uint64(0); claimed < rides && k < uint64(4*rides); k++ {
					if c.ride(t, 1e6*(seed+1)+k, told.Told) {
						claimed++
					}
				}
			}
			t.Logf("\n%s", c.table())
			for _, row := range c.rows {
				row.check(t, whole)
			}
		})
	}
}

// A coverage gathers how often intervals held the truth, a row for each figure.
type coverage struct{ rows []*coverRow }

type coverRow struct {
	name                 string
	held, below, above   int // below: the truth lies under the interval
	value, error_, width float64
}

// small is the loss to lugging in Wh that parts small ones from large.
const small = 0.3

// ride adds one ride; false if its log bears no claim of the battery's energy.
func (c *coverage) ride(t *testing.T, seed uint64, told made.Told) bool {
	t.Helper()
	draw := rand.New(rand.NewPCG(seed, 80))
	p := bike.Example()
	errand := made.Errand(course, seed, 5+10*draw.Float64())
	errand.Told = told
	rider := made.Between(made.Lugger(), made.Shifter(), draw.Float64())
	m := made.Simulate(made.Drawn(p, seed), errand, rider, seed)
	r, err := m.Tracks[0].Ride()
	if err != nil {
		t.Fatal(err)
	}
	res, err := analysis.Review(r, p, analysis.Options{SkipReplays: true})
	if err != nil {
		t.Fatal(err)
	}
	h := res.Headline
	if math.IsNaN(h.BatteryWh.Value) {
		return false
	}
	again, err := m.Replay(res.Plan.Gear)
	if err != nil {
		t.Fatal(err)
	}
	truth := m.Truth
	c.add("battery", h.BatteryWh, truth.TerminalWh())
	c.add("battery Wh/km", h.WhPerKm, truth.TerminalWh()/truth.Metres()*1000)
	c.add("rider", h.RiderWh, truth.Wh(made.Legs))
	size := "small"
	if truth.LuggingWh() >= small {
		size = "large"
	}
	c.add("lugging, "+size, h.LuggingLossWh, truth.LuggingWh())
	c.add("plan's saving", h.PlanSavingWh, truth.TerminalWh()-again.TerminalWh)
	c.add("winding peak", h.WindingPeakC, slices.Max(truth.Winding))
	for _, line := range truthOf {
		res.Books.Each(func(_ int, a *ledger.Account) {
			if a.Name == line.line {
				c.add(a.Name, doubt.Figure{Value: a.Wh, Low: a.Low, High: a.High}, truth.Wh(line.account))
			}
		})
	}
	return true
}

// truthOf names the simulator's account of each line of the books.
var truthOf = []struct {
	line    string
	account made.Account
}{
	{ledger.Store, made.Stored},
	{ledger.Heat, made.BatteryHeat},
	{ledger.Controller, made.Controller},
	{ledger.Copper, made.Copper},
	{ledger.Drag, made.Drag},
	{ledger.Reduction, made.Reduction},
	{ledger.Chain, made.Chain},
	{ledger.Delivered, made.Delivered},
	{ledger.FromLegs, made.Legs},
	{ledger.LegsChain, made.LegsChain},
	{ledger.Air, made.Air},
	{ledger.Rolling, made.Rolling},
	{ledger.Bearings, made.Bearings},
	{ledger.Climbing, made.Climbing},
	{ledger.Brakes, made.Brakes},
}

var course = made.CoastRoad()

func (c *coverage) add(name string, f doubt.Figure, truth float64) {
	if math.IsNaN(f.Value) {
		return
	}
	k := slices.IndexFunc(c.rows, func(r *coverRow) bool { return r.name == name })
	if k < 0 {
		k, c.rows = len(c.rows), append(c.rows, &coverRow{name: name})
	}
	row := c.rows[k]
	switch {
	case truth < f.Low:
		row.below++
	case truth > f.High:
		row.above++
	default:
		row.held++
	}
	row.value += truth
	row.error_ += f.Value - truth
	row.width += (f.High - f.Low) / 2
}

func (r *coverRow) n() int { return r.held + r.below + r.above }

func (c *coverage) table() string {
	var b strings.Builder
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "figure\trides\theld\ttruth below\tabove\tmean truth\tmean error\tmean half width\t")
	for _, r := range c.rows {
		n := float64(r.n())
		fmt.Fprintf(w, "%s\t%d\t%.1f %%\t%d\t%d\t%.3f\t%+.3f\t%.3f\t\n", r.name, r.n(), 100*float64(r.held)/n, r.below, r.above, r.value/n, r.error_/n, r.width/n)
	}
	w.Flush()
	return b.String()
}

// check holds a row against the promise, with what its sample may be off: one
// standard deviation of a whole run's, three of a short one's. Misses on one side
// alone would say that the figure leans.
func (r *coverRow) check(t *testing.T, whole bool) {
	t.Helper()
	n, spread := float64(r.n()), 3.1
	if whole {
		spread = 1
	}
	low, high := 0.85-spread*math.Sqrt(0.85*0.15/n), 0.95+spread*math.Sqrt(0.95*0.05/n)
	if share := float64(r.held) / n; share < low || share > high {
		t.Errorf("%s: held in %d of %d rides, want %.1f to %.1f %%", r.name, r.held, r.n(), 100*low, 100*high)
	}
	misses := float64(r.below + r.above)
	if most := 0.7 + 2*math.Sqrt(0.7*0.3/misses); whole && float64(max(r.below, r.above)) > most*misses {
		t.Errorf("%s: of %.0f misses %d lie below and %d above", r.name, misses, r.below, r.above)
	}
}
