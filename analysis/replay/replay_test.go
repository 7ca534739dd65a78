package replay

import (
	"math"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/made"
	"cogledger/analysis/road"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

// A tried ride has been through every stage before the replays.
type tried struct {
	r    *ride.Ride
	p    *bike.Profile
	inf  *gears.Inference
	rd   *road.Series
	d    *drive.Series
	m    *drive.Matrix
	plan shifts.Plan
}

func try(t testing.TB, mr *made.Ride) tried {
	t.Helper()
	r, err := mr.Tracks[0].Ride()
	if err != nil {
		t.Fatal(err)
	}
	x := tried{r: r, p: mr.Bike}
	if x.inf, err = gears.Infer(r, x.p, gears.Options{}); err != nil {
		t.Fatal(err)
	}
	x.rd = road.Load(r, x.p, road.Options{})
	x.d = drive.Run(r, x.p, x.inf, x.rd, drive.Options{})
	x.m = drive.Alternatives(r, x.p, x.inf, x.rd, x.d)
	x.plan = shifts.Make(r, x.p, x.inf, x.rd, x.d, x.m)
	return x
}

func (x tried) all() []Outcome { return All(x.r, x.p, x.inf, x.rd, x.d, x.m, x.plan) }

// TestOutcomesShareOneEnergy: as ridden is what the battery gave, the plan is
// that less its saving, and a single gear is what the simulator, which shares
// only the profile, makes of the same ride in that gear.
func TestOutcomesShareOneEnergy(t *testing.T) {
	mr := made.Week(bike.Example(), made.Options{Seed: 1})[4]
	x := try(t, mr)
	outcomes := x.all()
	used := 0.0
	for _, v := range x.d.Terminal {
		used += known(v) / joulesPerWh
	}
	within(t, "as ridden", outcomes[0].BatteryWh, used, 1e-4*used)
	within(t, "plan", outcomes[1].BatteryWh, used-x.plan.Saving.Value, 0.05*x.plan.Saving.Value)
	peak := 0.0
	for _, v := range x.d.Winding {
		peak = max(peak, known(v))
	}
	within(t, "peak as ridden", outcomes[0].WindingPeakC, peak, 1)

	singles := 0
	for _, o := range outcomes {
		if o.Kind != SingleGear {
			continue
		}
		singles++
		if o.FeasibleShare < 1 {
			continue
		}
		path := make([]int, mr.Truth.Seconds)
		for s := range path {
			path[s] = gears.Unknown
			if s < len(o.Gear) && x.inf.Index[s] >= 0 {
				path[s] = o.Gear[s]
			}
		}
		again, err := mr.Replay(path)
		if err != nil {
			t.Fatal(err)
		}
		if again.Limited > 5 {
			continue // the simulator books other gears there
		}
		within(t, o.Name, o.BatteryWh, again.TerminalWh, 0.015*again.TerminalWh)
		within(t, o.Name+": copper", o.CopperWh, again.Wh[made.Copper], 0.1*again.Wh[made.Copper])
		within(t, o.Name+": peak", o.WindingPeakC, again.WindingC, 0.1*again.WindingC)
	}
	if singles != len(x.p.Gears()) {
		t.Errorf("%d single gears of %d", singles, len(x.p.Gears()))
	}
}

func within(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.4g, want %.4g within %.2g", what, got, want, tolerance)
	}
}

// TestWhatADriveCannotHoldIsSlower: low gears run out of voltage, a hub motor
// of current on a steep climb, and both say how much longer the ride takes.
func TestWhatADriveCannotHoldIsSlower(t *testing.T) {
	climb := made.Simulate(bike.Example(), made.Scenario{Name: "steep climb", Course: made.Climb(900, 0.1), AirC: 20}, made.Shifter(), 1)
	x := try(t, climb)
	var low, hub, ridden Outcome
	for _, o := range x.all() {
		switch {
		case o.Kind == AsRidden:
			ridden = o
		case o.Kind == HubMotor:
			hub = o
		case o.Kind == SingleGear && low.Name == "":
			low = o
		}
		if o.FeasibleShare < 0 || o.FeasibleShare > 1 || o.SlowerBy < 0 || o.SlowerBy > 1 || o.LongerS < 0 ||
			(o.FeasibleShare == 1) != (o.LongerS == 0) || !(o.BatteryWh > 0) || !(o.WindingPeakC > 0) {
			t.Errorf("%+v", o)
		}
	}
	if ridden.FeasibleShare != 1 {
		t.Errorf("the ride as ridden was held in %g of its loaded seconds", ridden.FeasibleShare)
	}
	if low.FeasibleShare > 0.9 || low.LongerS < 1 {
		t.Errorf("in the lowest gear only: %+v", low)
	}
	if !(hub.CopperWh > ridden.CopperWh) {
		t.Errorf("a hub motor on a 10 %% climb heats its winding less (%g Wh) than a mid drive well shifted (%g Wh)", hub.CopperWh, ridden.CopperWh)
	}
}

// TestHubMotorUsesMoreOnSteepRoads: a direction that was measured, not a number
// to hit (Arango, Godoy & Lopez 2018, IJVSMT 13(1):44-58, abstract: a hub motor
// used 18 % more energy than a mid drive on steep roads). Steep is where a hub
// motor's one reduction lets it lug: the same power at the wheel must take more
// from the battery.
func TestHubMotorUsesMoreOnSteepRoads(t *testing.T) {
	climb := made.Simulate(bike.Example(), made.Scenario{Name: "steep climb", Course: made.Climb(600, 0.1), AirC: 20}, made.Shifter(), 1)
	x := try(t, climb)
	outcomes := x.all()
	hub, planned := outcomes[len(outcomes)-1], outcomes[1]
	if hub.Kind != HubMotor || hub.BatteryWh <= planned.BatteryWh {
		t.Errorf("hub %.2f Wh, mid drive shifted as planned %.2f Wh", hub.BatteryWh, planned.BatteryWh)
	}
	unit := drive.NewUnit(x.p)
	motor := HubTurns(x.p) * unit.Cutoff * 2 * math.Pi / x.p.Circumference()
	within(t, "hub motor's voltage at the cut-off", x.p.Motor.TorqueConstant*motor, 0.9*x.p.Battery.NominalV, 1e-9)
}

// TestTheSameBikeAsAnotherProfile: ridden on a copy of the bike, in the gears
// ridden, a ride must cost what it cost; on a heavier bike more.
func TestTheSameBikeAsAnotherProfile(t *testing.T) {
	x := try(t, made.Week(bike.Example(), made.Options{Seed: 1})[4])
	ridden := x.all()[0]
	same := *x.p
	other := With(&same, x.r, x.p, x.inf, x.rd, x.d, x.m)
	if len(other) != 2 {
		t.Fatalf("%d outcomes", len(other))
	}
	within(t, "on the same bike", other[0].BatteryWh, ridden.BatteryWh, 0.005*ridden.BatteryWh)
	within(t, "on the same bike, planned", other[1].BatteryWh, ridden.BatteryWh-x.plan.Saving.Value, 0.01*ridden.BatteryWh)
	heavy := *x.p
	heavy.Mass.LoadKg += 60
	if loaded := With(&heavy, x.r, x.p, x.inf, x.rd, x.d, x.m); !(loaded[0].BatteryWh > 1.05*other[0].BatteryWh) {
		t.Errorf("60 kg more take %g Wh instead of %g", loaded[0].BatteryWh, other[0].BatteryWh)
	}
	hub := *x.p
	hub.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: HubTurns(x.p)}
	all := x.all()
	within(t, "as a hub drive", With(&hub, x.r, x.p, x.inf, x.rd, x.d, x.m)[0].BatteryWh, all[len(all)-1].BatteryWh, 0.002*ridden.BatteryWh)
}

// TestFittings: a bike with a ring far too big for its hills is told a smaller
// one or a wider cassette, and what it is told saves when ridden.
func TestFittings(t *testing.T) {
	tall := bike.Example()
	tall.Drivetrain = bike.Drivetrain{Chainrings: []int{52}, Cogs: []int{11, 12, 13, 14, 15, 17, 19, 21}}
	climb := made.Simulate(tall, made.Scenario{Name: "hill", Course: made.Climb(1500, 0.07), AirC: 20}, made.Lugger(), 3)
	x := try(t, climb)
	found := Fittings(x.r, x.p, x.inf, x.rd, x.d, x.m, 5)
	if len(found) < 2 || !found[0].Fitted {
		t.Fatalf("nothing better found than %+v", found)
	}
	best := found[1]
	lowest := float64(best.Chainrings[0]) / float64(best.Cogs[len(best.Cogs)-1])
	if lowest > 52.0/21/1.1 || best.SavingWh < 0.02*found[0].BatteryWh {
		t.Errorf("best is %+v", best)
	}
	other := *x.p
	other.Name = best.Name
	other.Drivetrain = bike.Drivetrain{Chainrings: best.Chainrings, Cogs: best.Cogs}
	there := With(&other, x.r, x.p, x.inf, x.rd, x.d, x.m)
	if saved := x.all()[1].BatteryWh - there[1].BatteryWh; saved < 0.5*best.SavingWh {
		t.Errorf("%s: saves %.2f Wh when ridden, told %.2f", best.Name, saved, best.SavingWh)
	}
	hub := *x.p
	hub.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: 20}
	if Fittings(x.r, &hub, x.inf, x.rd, x.d, x.m, 5) != nil {
		t.Error("a hub motor is told another cassette")
	}
}

func BenchmarkAll(b *testing.B) {
	x := try(b, made.Week(bike.Example(), made.Options{Seed: 1})[6])
	for b.Loop() {
		x.all()
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(x.r.Len()), "ns/ride-s")
}

func BenchmarkFittings(b *testing.B) {
	x := try(b, made.Week(bike.Example(), made.Options{Seed: 1})[6])
	for b.Loop() {
		Fittings(x.r, x.p, x.inf, x.rd, x.d, x.m, 5)
	}
}

// TestRidesThatTellNothing: an empty ride, and one without a channel, give
// outcomes without a number that is not one.
func TestRidesThatTellNothing(t *testing.T) {
	p := bike.Example()
	for _, seconds := range []int{0, 1, 2, 40} {
		x := tried{r: ride.New(seconds), p: p}
		var err error
		if x.inf, err = gears.Infer(x.r, p, gears.Options{}); err != nil {
			t.Fatal(err)
		}
		x.rd = road.Load(x.r, p, road.Options{})
		x.d = drive.Run(x.r, p, x.inf, x.rd, drive.Options{})
		x.m = drive.Alternatives(x.r, p, x.inf, x.rd, x.d)
		x.plan = shifts.Make(x.r, p, x.inf, x.rd, x.d, x.m)
		moments := shifts.Moments(x.r, p, x.inf, x.rd, x.d, x.m, x.plan)
		shifts.Habits(x.r, p, x.inf, x.rd, x.d, x.m, x.plan, moments)
		for _, o := range append(x.all(), With(p, x.r, p, x.inf, x.rd, x.d, x.m)...) {
			for _, v := range []float64{o.BatteryWh, o.CopperWh, o.WindingPeakC, o.FeasibleShare, o.SlowerBy, o.LongerS, o.LegsOutShare, o.ReplayedShare} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Errorf("%d s: %+v", seconds, o)
				}
			}
		}
		if got := Fittings(x.r, p, x.inf, x.rd, x.d, x.m, 3); got != nil {
			t.Errorf("%d s: fittings %+v", seconds, got)
		}
		if rows, err := LaunchTable(x.r, p, x.inf, x.rd, LaunchOptions{}); err != nil || len(rows) != len(p.Gears()) {
			t.Errorf("%d s: %d starts, %v", seconds, len(rows), err)
		}
	}
}
