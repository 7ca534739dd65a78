// Package shifts finds the gears that would have served better, and what the
// rider can learn from them.
//
// Make plans the ride: an exact dynamic program weighs the battery's energy,
// the legs' comfort and a price a shift. Moments turns the differences between
// plan and ride into stretches to remember, Habits into what to change.
package shifts

import (
	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/road"
	"cogledger/ingest/ride"
)

// A Plan is the best rideable choice of gears for the ride. It looks ahead over
// the whole ride, as a rider does who knows the road; no rider sees a gust or a
// red light that far ahead, so its saving is the most that shifting could give.
type Plan struct {
	Gear     []int     // index into bike.Profile.Gears(), gears.Unknown where nothing can be planned
	Terminal []float64 // W out of the battery with the planned gear, NaN where not planned

	Shifts       int     // in a derailleur every cog moved counts as one
	ShiftsRidden int     // the same of the ride
	MostShifts   int     // the limit: the profile's, or what the rider made where that is more
	PriceJ       float64 // of a shift, as raised to meet the limit

	Cost       float64 // J of battery energy, its heat included, legs out of their band, and shifts at PriceJ
	CostRidden float64 // the same of the ride as ridden; never less than Cost

	Saving  doubt.Figure // Wh out of the battery's terminals over the whole ride
	Cooler  float64      // Wh of that, because a winding that runs cooler resists less
	Seconds int          // planned seconds

	EnergyWh      float64 // Wh of the saving that a rider gets who follows the plan only from where it leaves the ridden gear to where it meets it again, wherever that saves; never negative
	LegsOutS      int     // planned seconds with the legs out of their band
	LegsOutRidden int     // the same seconds as ridden
}

// ForLegs reports whether the plan spends battery energy for the legs' sake: it
// is no saving then.
func (plan *Plan) ForLegs() bool { return plan.Saving.Value < 0 }

// Make plans the ride. A second is planned where gears can be compared (see
// Comparable); over the others the plan is carried on without a cost, so that
// they never count as saving.
//
// The rider's own power and the bike's speed are kept. A gear is open where the
// drive is within its limits and the legs turn within their band, or no further
// out than they did turn. What the rider did is always open, so the plan is
// never dearer than the ride.
func Make(r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, d *drive.Series, m *drive.Matrix) Plan {
	return new(Scratch).Make(r, p, inf, rd, d, m)
}

// A Scratch is memory that one planning after another may use, but not two at
// once. The zero value is ready.
type Scratch struct {
	planner Planner
	cost    []float32
}

// Make is the function Make in this memory.
func (w *Scratch) Make(r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, d *drive.Series, m *drive.Matrix) Plan {
	w.cost = sized(w.cost, r.Len()*m.Gears)
	c := survey(r, p, inf, rd, d, m, w.cost)
	plan := Plan{Gear: make([]int, r.Len()), Terminal: make([]float64, r.Len()), PriceJ: p.Shifting.PriceJ}
	path := Path{Gear: c.problem.Ridden, Price: p.Shifting.PriceJ}
	if c.known > 0 {
		plan.ShiftsRidden = c.problem.Changes(c.problem.Ridden)
		path.Shifts = plan.ShiftsRidden
		plan.MostShifts = max(int(p.Shifting.MostPerKm*c.km), plan.ShiftsRidden)
		if best, err := w.planner.Within(c.problem, p.Shifting.PriceJ, plan.MostShifts); err == nil {
			path = best
		}
		plan.Shifts, plan.PriceJ, plan.Cost = path.Shifts, path.Price, path.Cost
		plan.CostRidden = c.problem.priced(c.problem.Ridden, path.Price)
	}
	for s := range plan.Gear {
		plan.Gear[s], plan.Terminal[s] = gears.Unknown, nan
		if c.claimed[s] {
			plan.Gear[s] = path.Gear[s]
			plan.Terminal[s] = float64(m.Terminal[m.At(s, path.Gear[s])])
			plan.Seconds++
		}
	}
	plan.apart(p, inf.Index, d, m)
	plan.cool(p, inf.Index, d, m)
	saved := PlanSaving(m, inf.Index, plan)
	plan.Saving = doubt.Figure{Value: saved, Low: saved, High: saved, Basis: d.Knowledge.Basis().Weaker(doubt.Derived)}
	return plan
}

// apart tells the plan's energy from its legs.
func (plan *Plan) apart(p *bike.Profile, ridden []int, d *drive.Series, m *drive.Matrix) {
	stretch := 0.0 // J saved since the plan left the ridden gear
	for s, g := range plan.Gear {
		if g < 0 {
			continue
		}
		if d.LegsClass[s] > drive.LegsStill {
			if outOfBand(p, m.CadenceRPM(s, g)) > 0 {
				plan.LegsOutS++
			}
			if outOfBand(p, m.CadenceRPM(s, ridden[s])) > 0 {
				plan.LegsOutRidden++
			}
		}
		if g == ridden[s] {
			plan.EnergyWh += max(0, stretch) / joulesPerWh
			stretch = 0
			continue
		}
		if saved := float64(m.Terminal[m.At(s, ridden[s])]) - float64(m.Terminal[m.At(s, g)]); saved == saved { // not NaN
			stretch += saved
		}
	}
	plan.EnergyWh += max(0, stretch) / joulesPerWh
}

// PlanSaving is what the plan saves over the whole ride, in Wh out of the
// battery's terminals, by the given matrix: one of a changed profile tells how
// far the saving rests on the profile, with gears and plan held.
func PlanSaving(m *drive.Matrix, ridden []int, plan Plan) float64 {
	return savingBetween(m, ridden, plan.Gear, 0, len(plan.Gear)) + plan.Cooler
}

// Savings is what each moment saves, in Wh out of the battery's terminals, by
// the given matrix, with gears, plan and moments held; see PlanSaving.
func Savings(m *drive.Matrix, ridden []int, plan Plan, moments []Moment) []float64 {
	saved := make([]float64, len(moments))
	for i, x := range moments {
		saved[i] = savingBetween(m, ridden, plan.Gear, x.From, x.To)
	}
	return saved
}

// cool takes off what a cooler winding saves. The matrix asks every gear at
// the winding temperature of the ride; the plan's winding, spared some heat,
// stays below it. Temperatures answer linearly to heat, so the difference is
// that of a motor at rest warmed by the heat saved.
func (plan *Plan) cool(p *bike.Profile, ridden []int, d *drive.Series, m *drive.Matrix) {
	unit, nodes := drive.NewUnit(p), drive.NewNodes(p.Thermal, 1)
	perKelvin := unit.Resistance(1) - unit.Resistance(0)
	var winding, housing float64 // K below the ride's
	for s, g := range plan.Gear {
		amps := d.MotorAmps[s]
		if amps != amps { // unknown
			winding, housing = nodes.Step(winding, housing, 0, 0, 0)
			continue
		}
		resistance, spared, core := unit.Resistance(d.Winding[s]), 0.0, 0.0
		if g >= 0 && g != ridden[s] && d.Class[s].Loaded() {
			speed := m.MotorSpeed(s, g)
			would := unit.AmpsAtTerminal(speed, float64(m.Terminal[m.At(s, g)]), d.Winding[s])
			spared = (amps*amps - would*would) * resistance
			core = d.Drag[s] - (unit.Coulomb+unit.Viscous*speed)*speed
			amps = would
		}
		cooler := amps * amps * perKelvin * winding
		if g >= 0 {
			plan.Terminal[s] -= cooler
			plan.Cooler += cooler / joulesPerWh
		}
		winding, housing = nodes.Step(winding, housing, spared+cooler, core, 0)
	}
}

func savingBetween(m *drive.Matrix, ridden, planned []int, from, to int) float64 {
	joules := 0.0
	for s := from; s < to; s++ {
		if planned[s] < 0 || ridden[s] < 0 || planned[s] == ridden[s] {
			continue
		}
		if saved := float64(m.Terminal[m.At(s, ridden[s])]) - float64(m.Terminal[m.At(s, planned[s])]); saved == saved { // not NaN
			joules += saved
		}
	}
	return joules / joulesPerWh
}

const joulesPerWh = 3600
