package replay

import (
	"fmt"
	"math"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/road"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

// All rides the ride again as it was. A mid drive rides it also as planned, in each
// single gear, and with the same motor in the hub; a hub motor, which gears do not
// reach, with the same motor driving through the gears.
func All(r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, d *drive.Series, m *drive.Matrix, plan shifts.Plan) []Outcome {
	c := survey(r, p, inf, rd, d, m)
	own := rig{bike: p, unit: drive.NewUnit(p).Rolling(inf.Circumference), all: p.Gears(), own: m}

	own.gear = inf.Index
	outcomes := []Outcome{own.named(c, AsRidden, AsRidden)}
	if own.unit.Hub() {
		return append(outcomes, mid(c, p, inf))
	}
	own.gear = plan.Gear
	outcomes = append(outcomes, own.named(c, "shifted as planned", Planned))
	for k, g := range own.all {
		own.gear = only(k, r.Len())
		outcomes = append(outcomes, own.named(c, g.String()+" only", SingleGear))
	}
	return append(outcomes, hub(c, p, inf))
}

func (g *rig) named(c *course, name, kind string) Outcome {
	o := g.ride(c)
	o.Name, o.Kind, o.Gear = name, kind, g.gear
	return o
}

func only(gear, seconds int) []int {
	path := make([]int, seconds)
	for s := range path {
		path[s] = gear
	}
	return path
}

// hubHeadroom is the part of the battery's nominal voltage that the motor's own
// voltage leaves free at the assist cut-off speed.
const hubHeadroom = 0.1

// HubTurns is how many turns a wheel turn the profile's motor would make in the
// hub, behind one fixed reduction, so that at the assist cut-off speed a tenth
// of the battery's voltage is left to push current with.
func HubTurns(p *bike.Profile) float64 {
	motor := (1 - hubHeadroom) * p.Battery.NominalV / p.Motor.TorqueConstant // rad/s
	wheel := 2 * math.Pi * p.Assist.CutoffKmh / 3.6 / p.Circumference()
	return motor / wheel
}

// hub is the ride with the same motor in the hub; the legs keep their gears.
func hub(c *course, p *bike.Profile, inf *gears.Inference) Outcome {
	other := *p
	turns := HubTurns(p)
	other.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: turns}
	g := rig{bike: &other, unit: drive.NewUnit(&other).Rolling(inf.Circumference), all: p.Gears(), gear: inf.Index}
	o := g.named(c, "same motor in the hub", HubMotor)
	o.Gear = nil
	o.Note = fmt.Sprintf("The same motor and battery with one fixed reduction of %.1f motor turns a wheel turn, which leaves it %.0f %% of the battery's voltage at %.0f km/h; the legs shift as ridden.",
		turns, 100*hubHeadroom, p.Assist.CutoffKmh)
	return o
}

// fastLegs in rpm is where the legs' band ends when it is widened as the loss to
// lugging widens it.
const fastLegs = 100

// mid is the ride of a hub motor with the same motor at the cranks, geared so that
// hubHeadroom of the battery's voltage is left when the legs turn at fastLegs; the
// gears are those ridden.
func mid(c *course, p *bike.Profile, inf *gears.Inference) Outcome {
	other := *p
	motor := (1 - hubHeadroom) * p.Battery.NominalV / p.Motor.TorqueConstant // rad/s
	turns := motor / (2 * math.Pi * fastLegs / 60)
	other.Drive = bike.Drive{Kind: bike.Mid, TurnsPerCrank: turns}
	g := rig{bike: &other, unit: drive.NewUnit(&other).Rolling(inf.Circumference), all: p.Gears(), gear: inf.Index}
	o := g.named(c, "same motor through the gears", MidMotor)
	o.Note = fmt.Sprintf("The same motor and battery at the cranks with %.1f motor turns a crank turn, which leaves it %.0f %% of the battery's voltage at %d crank turns a minute; the gears as ridden.",
		turns, 100*hubHeadroom, fastLegs)
	return o
}

// With rides the ride again on another bike: first in the gears closest to
// those ridden, then shifted as planned for that bike. Weight and drag of the
// other bike change what the road asks.
func With(other *bike.Profile, r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, d *drive.Series, m *drive.Matrix) []Outcome {
	c := survey(r, p, inf, rd, d, m)
	there := *inf
	there.Index = closest(p, other, inf)
	there.Circumference = other.Circumference()
	road2 := road.Load(r, other, road.Options{})

	g := rig{
		bike: other, unit: drive.NewUnit(other), all: other.Gears(),
		extra: make([]float64, r.Len()), volts: other.Battery.NominalV - p.Battery.NominalV,
	}
	asked := *d
	asked.Delivered, asked.MotorSpeed, asked.OpenCircuit = make([]float64, r.Len()), make([]float64, r.Len()), make([]float64, r.Len())
	for s := range g.extra {
		if more := road2.Demand[s] - rd.Demand[s]; more == more {
			g.extra[s] = more
		}
		asked.Delivered[s] = d.Delivered[s] + g.extra[s]
		asked.MotorSpeed[s] = math.NaN() // of another motor
		asked.OpenCircuit[s] = d.OpenCircuit[s] + g.volts
	}
	theirs := drive.Alternatives(r, other, &there, rd, &asked)
	asked.Terminal = make([]float64, r.Len()) // what its battery would give in those gears
	for s, k := range there.Index {
		asked.Terminal[s] = d.Terminal[s]
		if c.claimed[s] {
			asked.Terminal[s] = float64(theirs.Terminal[theirs.At(s, k)])
		}
	}
	plan := shifts.Make(r, other, &there, rd, &asked, theirs)

	g.gear = there.Index
	outcomes := []Outcome{g.named(c, other.Name+", in the gears closest to those ridden", OtherProfile)}
	if len(g.all) > 1 {
		g.gear = plan.Gear
		outcomes = append(outcomes, g.named(c, other.Name+", shifted as planned", OtherProfile))
	}
	return outcomes
}

// closest is, a second, the gear of the other bike that moves it as far a crank
// turn as the gear ridden, or as near to that as it has.
func closest(p, other *bike.Profile, inf *gears.Inference) []int {
	theirs, ours := other.Gears(), p.Gears()
	match := make([]int, len(ours))
	for k, g := range ours {
		off := math.Inf(1)
		for j, h := range theirs {
			if o := math.Abs(math.Log(h.Ratio * other.Circumference() / (g.Ratio * inf.Circumference))); o < off {
				match[k], off = j, o
			}
		}
	}
	index := make([]int, len(inf.Index))
	for s, g := range inf.Index {
		index[s] = gears.Unknown
		if g >= 0 {
			index[s] = match[g]
		}
	}
	return index
}
