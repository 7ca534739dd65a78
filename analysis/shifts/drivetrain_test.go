package shifts

import (
	"io/fs"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/made"
	"cogledger/analysis/road"
	"cogledger/ingest"
	"cogledger/ingest/ride"
)

// TestADerailleurShiftsWithTurningCranks states anew, from the log itself, what
// a derailleur can do, and holds the plans of made, simulated and recorded rides
// against it: no shift but the rider's own falls where the cranks stand, none
// where the motor gives all it may, and none moves more cogs than the cranks
// have half turns for. That a chain changes cogs only while it runs, about one
// each half turn of the crank, is common practice.
func TestADerailleurShiftsWithTurningCranks(t *testing.T) {
	rides := 500
	if testing.Short() {
		rides = 60
	}
	rng := rand.New(rand.NewPCG(18, 1))
	shifts := 0
	for range rides {
		wild := rng.Float64() / 3
		x := makeRide(t, rng, hills(rng, 120+rng.IntN(200), true), 80, 0.2, func(s, gear, ideal int) int {
			if rng.Float64() < wild {
				return max(0, min(9, gear+rng.IntN(5)-2))
			}
			return gear
		})
		shifts += x.checkDerailleur(t)
	}
	for _, mr := range made.Week(bike.Example(), made.Options{Seed: 18}) {
		shifts += reviewed(t, mr).checkDerailleur(t)
	}
	if shifts < rides {
		t.Errorf("%d shifts in %d rides: nothing was tried", shifts, rides)
	}
}

// TestPlansOfSimulatedRidesCanBeRidden does so with simulated errands of every
// rider.
func TestPlansOfSimulatedRidesCanBeRidden(t *testing.T) {
	rides := 500
	if testing.Short() {
		rides = 40
	}
	coast, shifts := made.CoastRoad(), 0
	riders := []made.Rider{made.Lugger(), made.OneGearLugger(), made.Shifter(), made.Between(made.Lugger(), made.Shifter(), 0.5)}
	for n := range rides {
		mr := made.Simulate(bike.Example(), made.Errand(coast, uint64(n)+1, 8), riders[n%len(riders)], uint64(n)+1)
		shifts += reviewed(t, mr).checkDerailleur(t)
		if t.Failed() {
			t.Fatalf("errand %d, %s", n, mr.Truth.Rider)
		}
	}
	if shifts < rides {
		t.Errorf("%d shifts in %d rides: nothing was tried", shifts, rides)
	}
}

// TestPlansOfRecordedRidesCanBeRidden does so with every log of the readers'
// libraries that can be read, as if ridden on a road bike with the example's
// motor.
func TestPlansOfRecordedRidesCanBeRidden(t *testing.T) {
	logs, shifts, longest := 0, 0, 60
	for _, path := range []string{"github.com/tormoder/fit", "github.com/muktihari/fit", "github.com/tkrajina/gpxgo"} {
		dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", path).Output()
		if err != nil || len(strings.TrimSpace(string(dir))) == 0 {
			t.Skipf("the module cache does not hold %s: %v", path, err)
		}
		err = filepath.WalkDir(strings.TrimSpace(string(dir)), func(path string, d fs.DirEntry, err error) error {
			if ext := filepath.Ext(path); err != nil || d.IsDir() || ext != ".fit" && ext != ".gpx" {
				return err
			}
			tracks, err := ingest.Open(path, ingest.Options{})
			if err != nil {
				return nil // damaged on purpose: the readers' tests look at these
			}
			for _, track := range tracks {
				r, err := track.Ride()
				if err != nil || r.Len() < longest {
					continue
				}
				x := madeRide{r: r, p: roadBike()}
				if x.inf, err = gears.Infer(r, x.p, gears.Options{}); err != nil {
					continue
				}
				x.rd = road.Load(r, x.p, road.Options{})
				x.d = drive.Run(r, x.p, x.inf, x.rd, drive.Options{})
				x.m = drive.Alternatives(r, x.p, x.inf, x.rd, x.d)
				n := x.checkDerailleur(t)
				logs, shifts = logs+1, shifts+n
				if n > 0 || t.Failed() {
					t.Logf("%s: %d shifts", filepath.Base(path), n)
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d shifts of the plans' own in %d recorded rides", shifts, logs)
	if logs < 10 || shifts < 50 {
		t.Errorf("%d shifts of the plans' own in %d recorded rides: nothing was tried", shifts, logs)
	}
}

// checkDerailleur checks every shift of the plan and counts them. Over a gap in
// the plan one pair of seconds that could hold the shift is enough.
func (x madeRide) checkDerailleur(t *testing.T) (shifts int) {
	t.Helper()
	plan, all := x.plan(), x.p.Gears()
	ridden := bridged(x.inf.Index)
	x.checkHeld(t, plan)
	last := -1
	for s, g := range plan.Gear {
		if g < 0 {
			continue
		}
		if last < 0 || g == plan.Gear[last] {
			last = s
			continue
		}
		from := plan.Gear[last]
		own, turned, eased, halfTurns := false, false, false, 0.0
		for u := last + 1; u <= s; u++ {
			own = own || ridden[u] != ridden[u-1] // nobody knows when within a gap the rider shifted
			before, now := x.turns(u-1), x.turns(u)
			if before > 0 && now > 0 {
				turned = true
				halfTurns += 2 * (before + now)
			}
			eased = eased || !x.atItsMost(u-1) && !x.atItsMost(u)
		}
		last = s
		if own {
			continue
		}
		shifts++
		cogs := 0
		for _, other := range all { // cogs between the two
			if other.Front == all[g].Front && min(all[from].Rear, all[g].Rear) <= other.Rear && other.Rear < max(all[from].Rear, all[g].Rear) {
				cogs++
			}
		}
		if !turned || !eased || float64(cogs) > max(1, halfTurns) {
			t.Errorf("second %d: %v -> %v with cranks turning %v, load below full %v, %.1f half turns", s, all[from], all[g], turned, eased, halfTurns)
		}
	}
	return shifts
}

// checkHeld checks that no gear of the plan's own asks more volts of the battery
// than it has while the motor works, nor more than 110 rpm of turning cranks
// over three seconds: one second alone may be a noisy one. Cranks that turn slack,
// slower than the chain, hold no gear.
func (x madeRide) checkHeld(t *testing.T, plan Plan) {
	t.Helper()
	circumference, unit := x.inf.Circumference, drive.NewUnit(x.p)
	fast := 0.0
	var last [3]float64
	for s, g := range plan.Gear {
		copy(last[:], last[1:])
		last[2] = 0
		if g < 0 || g == x.inf.Index[s] {
			continue
		}
		ratio := x.p.Gears()[g].Ratio
		if x.turns(s) > 0 && (x.d.LegsClass[s] > drive.LegsStill || x.d.Class[s].Loaded()) {
			last[2] = 60 * x.rd.Speed[s] / (circumference * ratio)
		}
		fast = max(fast, min(last[0], last[1], last[2]))
		if x.d.Class[s].Loaded() {
			w := x.m.MotorSpeed(s, g)
			pt := unit.AtTerminal(w, plan.Terminal[s], x.d.Winding[s], x.d.OpenCircuit[s])
			if pt.MotorVolts > 1.005*pt.BatteryVolts || pt.BatteryVolts != pt.BatteryVolts {
				t.Errorf("second %d: gear %d asks for %.1f V of %.1f", s, g, pt.MotorVolts, pt.BatteryVolts)
			}
		}
	}
	if fast > fastestRPM+1 {
		t.Errorf("a planned gear turns the cranks at %.0f rpm for three seconds", fast)
	}
}

// turns of the crank in second s: as logged, or where not, as gear and speed tell.
func (x madeRide) turns(s int) float64 {
	rpm := x.r.At(ride.CadenceRPM, s)
	if rpm != rpm && x.inf.Index[s] >= 0 {
		rpm = x.m.CadenceRPM(s, x.inf.Index[s])
	}
	if rpm > 0 && !x.r.Paused(s) {
		return rpm / 60
	}
	return 0
}

func (x madeRide) atItsMost(s int) bool {
	return x.d.Amps[s] >= 0.9*x.p.Controller.BatteryCurrentLimit || x.d.MotorAmps[s] >= 0.9*x.p.Motor.PhaseCurrentLimit
}

// A gear hub shifts while standing, and a gearbox anywhere; a derailleur that
// may not move before the lights starts in the gear it stopped in.
func TestEachMechanismHasItsMoment(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	way := plannedRoad{make([]float64, 120), make([]bool, 120)}
	for s := 50; s < 70; s++ {
		way.stand[s] = true
	}
	for _, c := range []struct {
		mechanism bike.Mechanism
		standing  bool
	}{{bike.Derailleur, false}, {bike.GearHub, true}, {bike.Gearbox, true}} {
		p := bike.Example()
		p.Shifting.Mechanism = c.mechanism
		x := makeRideOn(p, rng, way, 80, 0, func(int, int, int) int { return 8 })
		weight, reach := shiftable(x.r, x.p, x.inf, x.rd, x.d, x.m)
		if open := weight[60] < 10; open != c.standing {
			t.Errorf("%s: shifting at rest is open: %v", c.mechanism, open)
		}
		if (reach != nil) != (c.mechanism == bike.Derailleur) {
			t.Errorf("%s: reach %v", c.mechanism, reach)
		}
	}
}
