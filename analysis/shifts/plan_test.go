package shifts

import (
	"math"
	"math/rand/v2"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
)

// TestPlanIsNeverDearerThanTheRide checks 1,000 made rides of every kind of
// rider: the plan, priced anew from the matrix, costs no more than the ride
// under the same prices, keeps the limit on shifts and the limits of the drive.
func TestPlanIsNeverDearerThanTheRide(t *testing.T) {
	rides := 1000
	if testing.Short() {
		rides = 100
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for n := range rides {
		wild := rng.Float64() / 3
		habit := func(s, gear, ideal int) int {
			if rng.Float64() < wild {
				return max(0, min(9, gear+rng.IntN(5)-2))
			}
			return gear
		}
		x := makeRide(t, rng, hills(rng, 120+rng.IntN(200), true), 80, 0.2, habit)
		plan := x.plan()
		cost, ridden := x.price(plan.Gear, plan.PriceJ), x.price(x.inf.Index, plan.PriceJ)
		if plan.Cost > plan.CostRidden+1e-6 {
			t.Fatalf("ride %d: plan costs %g J, ride %g J", n, plan.Cost, plan.CostRidden)
		}
		if cost > ridden+plan.PriceJ*1e-6+1e-3 {
			t.Fatalf("ride %d: priced anew the plan costs %g J, the ride %g J", n, cost, ridden)
		}
		if plan.Shifts > plan.MostShifts {
			t.Fatalf("ride %d: %d shifts, at most %d", n, plan.Shifts, plan.MostShifts)
		}
		for s, g := range plan.Gear {
			if g >= 0 && g != x.inf.Index[s] && x.m.Limits[x.m.At(s, g)] != drive.NoLimit {
				t.Fatalf("ride %d: second %d planned beyond a limit", n, s)
			}
			if g >= 0 && x.inf.Index[s] < 0 {
				t.Fatalf("ride %d: second %d is planned although the gear ridden is unknown", n, s)
			}
		}
	}
}

// price is battery energy with its heat, legs and shifts over the planned
// seconds, written anew.
func (x madeRide) price(path []int, priceJ float64) float64 {
	sum := 0.0
	for s, g := range path {
		if g < 0 || x.inf.Index[s] < 0 {
			continue
		}
		k := s*x.m.Gears + g
		sum += float64(x.m.Terminal[k]) + float64(x.m.BatteryHeat[k])
		if x.d.LegsClass[s] > drive.LegsStill || x.d.Class[s] >= drive.Lugging {
			rpm := x.m.CadenceRPM(s, g) * smoothing(x.rd, s)
			out := max(0, x.p.Legs.BandRPM[0]-rpm, rpm-x.p.Legs.BandRPM[1]) / 10
			sum += x.p.Shifting.LegPriceW * out * out
		}
	}
	return sum + priceJ*x.weighedShifts(path)
}

// weighedShifts counts every cog that a path moves, at the weights of the plan.
func (x madeRide) weighedShifts(path []int) float64 {
	weights, _ := shiftable(x.r, x.p, x.inf, x.rd, x.d, x.m)
	sum, last, open := 0.0, -1, math.Inf(1)
	for s, g := range path {
		w := float64(weights[s])
		if g < 0 || x.inf.Index[s] < 0 {
			open = min(open, w) // the cheapest second of the gap may hold the shift
			continue
		}
		if last >= 0 && g != last {
			w = min(w, open)
			if math.IsInf(w, 1) {
				w = 1
			}
			sum += w * math.Abs(float64(g-last))
		}
		last, open = g, math.Inf(1)
	}
	return sum
}

// TestUnknownSecondsSaveNothing blanks the gear of a third of a lugged ride, in
// single seconds and in stretches: nothing is planned there, and the saving
// falls, it never grows beyond what the known seconds hold.
func TestUnknownSecondsSaveNothing(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 4))
	x := makeRide(t, rng, hills(rng, 1500, false), 80, 0.05, func(int, int, int) int { return 8 })
	whole := x.plan()
	if whole.Saving.Value <= 0 {
		t.Fatalf("one tall gear over hills saves %g Wh", whole.Saving.Value)
	}
	blank := func(is func(s int) bool) Plan {
		y := x
		inf := *x.inf
		inf.Index = append([]int(nil), x.inf.Index...)
		for s := range inf.Index {
			if is(s) {
				inf.Index[s] = -1
			}
		}
		y.inf = &inf
		plan := y.plan()
		claimed := 0.0
		for s, g := range plan.Gear {
			if (g < 0) != math.IsNaN(plan.Terminal[s]) || inf.Index[s] < 0 && g >= 0 {
				t.Fatalf("second %d: gear %d, %g W, ridden in %d", s, g, plan.Terminal[s], inf.Index[s])
			}
			if g >= 0 {
				claimed += (x.d.Terminal[s] - plan.Terminal[s]) / 3600
			}
		}
		if math.Abs(claimed-plan.Saving.Value) > 1e-3 {
			t.Errorf("saving of %g Wh, the seconds say %g", plan.Saving.Value, claimed)
		}
		return plan
	}
	for name, is := range map[string]func(s int) bool{
		"every third second": func(s int) bool { return s%3 == 0 },
		"stretches":          func(s int) bool { return s/100%3 == 0 },
	} {
		if part := blank(is); !(part.Saving.Value < whole.Saving.Value) || part.Saving.Value < 0 {
			t.Errorf("%s unknown: saves %g Wh, %g with all known", name, part.Saving.Value, whole.Saving.Value)
		}
	}
	if none := blank(func(int) bool { return true }); none.Saving.Value != 0 || none.Seconds != 0 || none.Shifts != 0 {
		t.Errorf("no gear known: %+v", none)
	}
}

// TestNoiseIsNoSaving: a steady ride in a fitting gear, its power made noisy
// second by second, must not seem worth shifting.
func TestNoiseIsNoSaving(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 3))
	way := plannedRoad{make([]float64, 1800), make([]bool, 1800)}
	for s := range way.grade {
		way.grade[s] = 0.02
	}
	x := makeRide(t, rng, way, 80, 0.5, shiftsWell())
	plan := x.plan()
	used := 0.0
	for _, v := range x.d.Terminal {
		used += v / 3600
	}
	if plan.Saving.Value > 0.005*used {
		t.Errorf("noise saves %.2f of %.1f Wh", plan.Saving.Value, used)
	}
	for _, m := range x.moments(plan) {
		if m.Advised {
			t.Errorf("noise is advised: %+v", m)
		}
	}
}

// TestAHubMotorHasNothingToPlan: its speed is the wheel's in every gear.
func TestAHubMotorHasNothingToPlan(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 3))
	x := makeRide(t, rng, hills(rng, 600, true), 80, 0.1, shiftsWell())
	hub := *x.p
	hub.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: 23}
	x.p = &hub
	x.d = drive.Run(x.r, x.p, x.inf, x.rd, drive.Options{})
	x.m = drive.Alternatives(x.r, x.p, x.inf, x.rd, x.d)
	used := 0.0
	for _, v := range x.d.Terminal {
		used += v / 3600
	}
	if plan := x.plan(); math.Abs(plan.Saving.Value) > 0.01*used {
		t.Errorf("gears of a hub drive save %g of %g Wh", plan.Saving.Value, used)
	}
}

func TestAdviceIsFewAndSure(t *testing.T) {
	p := bike.Example()
	moments := make([]Moment, 40)
	for i := range moments {
		wh := 0.1 + 0.01*float64(i)
		moments[i] = Moment{RiddenWh: 2, Saving: doubt.Figure{Value: wh, Low: wh / 2, High: 2 * wh}}
	}
	moments[39].Saving.Low = -0.01 // holds zero
	moments[38].RiddenWh = 100     // nothing against what the stretch took
	moments[37].Saving = doubt.Figure{Value: 1.5 * p.Shifting.PriceJ / 3600, Low: 0.001, High: 1}
	Advise(moments, p, 3600+1800)
	advised := 0
	for i, m := range moments {
		if m.Advised {
			advised++
		}
		if i > 36 && (m.Advised || m.Worth) || i == 36 && !m.Advised {
			t.Errorf("moment %d: worth %v, advised %v", i, m.Worth, m.Advised)
		}
	}
	if advised != 15 {
		t.Errorf("%d moments advised in an hour and a half", advised)
	}
}

// TestBandTable holds the rule of thumb against its definition: at the band's
// edges efficiency is three points below its best, or the drive's limits end it. Common practice of the trade
// says that around 80 rpm suits legs and motor alike.
func TestBandTable(t *testing.T) {
	p := bike.Example()
	unit := drive.NewUnit(p)
	rows := BandTable(p, []float64{100, 200, 300})
	for i, row := range rows {
		for _, rpm := range []float64{row.LowRPM, row.HighRPM} {
			pt := unit.AtShaft(unit.SpeedAtCadence(rpm), row.ShaftW, drive.ReferenceC, unit.OpenCircuitV)
			beyond := unit.AtShaft(unit.SpeedAtCadence(rpm*1.001), row.ShaftW, drive.ReferenceC, unit.OpenCircuitV)
			if beyond.Limit == drive.NoLimit && math.Abs(pt.Efficiency()-(row.Efficiency-drive.BandPoints)) > 1e-3 {
				t.Errorf("%g W at %g rpm: efficiency %g, best %g", row.ShaftW, rpm, pt.Efficiency(), row.Efficiency)
			}
		}
		if i > 0 && !(row.LowRPM > rows[i-1].LowRPM && row.BestRPM > rows[i-1].BestRPM) {
			t.Errorf("the band does not rise with power: %+v", row)
		}
	}
	if high := rows[2]; !(high.LowRPM < 80 && 80 < high.HighRPM) {
		t.Errorf("80 rpm is outside the band at %g W: %+v", high.ShaftW, high)
	}
	hub := *p
	hub.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: 20}
	if row := BandTable(&hub, []float64{200})[0]; !math.IsNaN(row.LowRPM) || !(row.LowSpeed > 0 && row.LowSpeed < row.HighSpeed) {
		t.Errorf("hub motor: %+v", row)
	}
}
