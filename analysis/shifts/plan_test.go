package shifts

import (
	"math"
	"math/rand/v2"
	"testing"

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
	return sum + priceJ*weighedShifts(x, path)
}

// weighedShifts counts shifts at the weights of the plan.
func weighedShifts(x madeRide, path []int) float64 {
	weights := shiftWeights(x.r, x.p.Gears(), x.rd, x.d)
	sum, last, open := 0.0, -1, 1.0
	for s, g := range path {
		w := float64(weights[s])
		if g < 0 || x.inf.Index[s] < 0 {
			if !math.IsInf(w, 1) {
				open = min(open, w) // the cheapest second of the gap may hold the shift
			}
			continue
		}
		if last >= 0 && g != last {
			if math.IsInf(w, 1) {
				w = 1
			}
			sum += min(w, open)
		}
		last, open = g, 1
	}
	return sum
}
