package shifts

import (
	"bytes"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/tormoder/fit"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/road"
	"cogledger/ingest/fitlog"
)

// realRide is a log of a real ride, with the licence of the module that holds
// it; the test is skipped where the module's sources are not at hand.
func realRide(t testing.TB, path string) []byte {
	t.Helper()
	dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/tormoder/fit").Output()
	if err != nil {
		t.Skipf("the module cache cannot be asked: %v", err)
	}
	data, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(dir)), "testdata", filepath.FromSlash(path)))
	if err != nil {
		t.Skipf("the module's test data are not at hand: %v", err)
	}
	return data
}

// roadBike is the example's drive on a road bike's gears, a scenario of our own:
// the real rides were ridden without a motor.
func roadBike() *bike.Profile {
	p := bike.Example()
	p.Wheel = bike.Wheel{RolloutMM: 2140}
	p.Drivetrain = bike.Drivetrain{Chainrings: []int{34, 50}, Cogs: []int{12, 13, 14, 15, 17, 19, 21, 23, 25}}
	p.Assist.CutoffKmh = 45
	return p
}

// TestARealRideIsAdvisedSparingly reviews a real road ride as if the example's
// motor had helped. Nothing planned may be unrideable, and the rider is told ten
// things an hour at most.
func TestARealRideIsAdvisedSparingly(t *testing.T) {
	tracks, err := fitlog.Read(realRide(t, "bpg/garmin.fit"), "garmin.fit", fitlog.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	r, err := tracks[0].Ride()
	if err != nil {
		t.Fatal(err)
	}
	x := madeRide{r: r, p: roadBike()}
	if x.inf, err = gears.Infer(r, x.p, gears.Options{}); err != nil {
		t.Fatal(err)
	}
	x.rd = road.Load(r, x.p, road.Options{})
	x.d = drive.Run(r, x.p, x.inf, x.rd, drive.Options{})
	x.m = drive.Alternatives(r, x.p, x.inf, x.rd, x.d)
	plan := x.plan()
	moments := x.moments(plan)
	hours, advised := 0.0, 0
	for _, moving := range x.rd.Moving {
		if moving {
			hours += 1.0 / 3600
		}
	}
	for _, m := range moments {
		if m.Advised {
			advised++
			t.Logf("%d s, %s: %v -> %v, %.0f -> %.0f rpm of the crank, %.2f of %.2f Wh", m.From, m.Place,
				x.p.Gears()[m.GearFrom], x.p.Gears()[m.GearTo], m.CadenceFrom, m.CadenceTo, m.Saving.Value, m.RiddenWh)
			if !(m.CadenceTo >= 55 && m.CadenceTo <= 105) || m.To <= m.From || m.Place == "" {
				t.Errorf("not rideable: %+v", m)
			}
		}
	}
	if plan.Seconds < 3000 || float64(advised) > 10*hours || plan.Cost > plan.CostRidden {
		t.Errorf("%d seconds planned, %d moments advised in %.1f h, cost %.0f J against %.0f", plan.Seconds, advised, hours, plan.Cost, plan.CostRidden)
	}
}

// BenchmarkPlan puts the plan of a ride of three hours in 24 gears beside the
// decoding of a real log of 2 h 49 min, for a measure of the machine.
func BenchmarkPlan(b *testing.B) {
	b.Run("decode 8,823 records", func(b *testing.B) {
		data := realRide(b, "bpg/garmin.fit")
		for b.Loop() {
			if _, err := fit.Decode(bytes.NewReader(data)); err != nil {
				b.Fatal(err)
			}
		}
	})
	p := bike.Example()
	p.Drivetrain = bike.Drivetrain{Chainrings: []int{32, 46}, Cogs: []int{11, 12, 13, 15, 17, 19, 21, 24, 28, 32, 36, 42}}
	rng := rand.New(rand.NewPCG(4, 2))
	x := makeRideOn(p, rng, hills(rng, 3*3600, true), 80, 0.1, func(_, _, ideal int) int { return min(23, ideal+2) })
	b.Run("plan 3 h, 24 gears", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			x.plan()
		}
	})
	tight := *p
	tight.Shifting.MostPerKm = 0.1
	still := makeRideOn(&tight, rng, hills(rng, 3*3600, true), 80, 0.1, func(int, int, int) int { return 20 })
	b.Run("plan 3 h, 24 gears, few shifts allowed", func(b *testing.B) {
		for b.Loop() {
			still.plan()
		}
	})
	plan := x.plan()
	b.Run("moments and habits", func(b *testing.B) {
		for b.Loop() {
			Habits(x.r, x.p, x.inf, x.rd, x.d, x.m, plan, x.moments(plan))
		}
	})
}
