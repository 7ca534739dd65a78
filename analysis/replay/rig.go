package replay

import (
	"math"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
)

// A rig is a drive that rides a course: the drive, its gears, and which of them
// it takes when.
type rig struct {
	bike  *bike.Profile
	unit  drive.Unit
	all   []bike.Gear
	gear  []int     // a second, into all; -1 where unknown
	extra []float64 // W at the wheel beyond what the course asks, for a bike of other weight; nil for none
	volts float64   // V above the course's battery at rest

	// own is the matrix of the bike that rode the course. It spares solving what
	// is solved already, and in the gears ridden gives what was measured.
	own *drive.Matrix

	ease float64 // of the last second that was too fast: pace held, over the plain guess at it
}

// A working is one loaded second.
type working struct {
	terminal, copper, core float64 // W; core warms the housing
	pace                   float64 // speed held, as a part of the course's
}

// ride runs the rig over the course.
func (g *rig) ride(c *course) Outcome {
	warm := newWarmth(g.bike, c)
	rpm := make([]float64, len(g.all)) // of the crank, for each m/s
	for k, gear := range g.all {
		rpm[k] = g.unit.CadenceRPM(1, gear)
	}
	var loaded, held, pedalling, legsOut int
	var battery, replayed, copper, late, lost float64
	for s, told := range c.told {
		gear := g.gear[s]
		if !c.claimed[s] || gear < 0 {
			battery += told.terminal
			copper += told.copper
			warm.second(told, c.air[s])
			continue
		}
		replayed += math.Abs(told.terminal)
		if c.d.LegsClass[s] > drive.LegsStill {
			pedalling++
			if turns := rpm[gear] * c.speed[s]; turns < g.bike.Legs.BandRPM[0] || turns > g.bike.Legs.BandRPM[1] {
				legsOut++
			}
		}
		w := told
		if c.d.Class[s].Loaded() {
			w = g.work(c, s, warm.winding)
			loaded++
			if w.pace == 1 {
				held++
			}
		}
		warm.second(w, c.air[s])
		if w.pace < 1 {
			lost += 1 - w.pace
			before := math.Floor(late)
			late += 1/w.pace - 1
			for range int(math.Floor(late) - before) { // whole seconds by which it falls behind
				warm.second(w, c.air[s])
			}
		}
		battery += w.terminal / w.pace
		copper += w.copper / w.pace
	}
	o := Outcome{
		BatteryWh: battery / joulesPerWh, CopperWh: copper / joulesPerWh, LongerS: late,
		WindingPeakC: warm.peak, OverLimitS: warm.overLimit,
		FeasibleShare: part(held, loaded), SlowerBy: lost / float64(max(1, loaded-held)),
		LegsOutShare: part(legsOut, pedalling), ReplayedShare: 1,
	}
	if c.total > 0 {
		o.ReplayedShare = replayed / c.total
	}
	return o
}

const joulesPerWh = 3600

// A warmth follows the motor's two temperatures through a ride.
type warmth struct {
	winding, housing float64 // °C
	peak             float64 // of the winding
	limit            float64
	overLimit        int // s

	// The exact step of drive.Nodes is linear: what of each temperature above
	// the air's stays and passes over in a second, and what a watt adds.
	wStays, wFromHousing, hFromWinding, hStays float64
	wPerCopper, wPerCore, hPerCopper, hPerCore float64
}

func newWarmth(p *bike.Profile, c *course) warmth {
	nodes := drive.NewNodes(p.Thermal, 1)
	x := warmth{winding: firstKnown(c.d.Winding, c.air), housing: firstKnown(c.d.Housing, c.air), limit: p.Thermal.WindingLimit()}
	x.peak = x.winding
	x.wStays, x.hFromWinding = nodes.Step(1, 0, 0, 0, 0)
	x.wFromHousing, x.hStays = nodes.Step(0, 1, 0, 0, 0)
	x.wPerCopper, x.hPerCopper = nodes.Step(0, 0, 1, 0, 0)
	x.wPerCore, x.hPerCore = nodes.Step(0, 0, 0, 1, 0)
	return x
}

func (x *warmth) second(w working, airC float64) {
	a, b := x.winding-airC, x.housing-airC
	x.winding = airC + x.wStays*a + x.wFromHousing*b + x.wPerCopper*w.copper + x.wPerCore*w.core
	x.housing = airC + x.hFromWinding*a + x.hStays*b + x.hPerCopper*w.copper + x.hPerCore*w.core
	if x.winding > x.peak {
		x.peak = x.winding
	}
	if x.winding > x.limit {
		x.overLimit++
	}
}

// work is the rig in a loaded second with its winding at windingC.
func (g *rig) work(c *course, s int, windingC float64) working {
	gear, wheel := g.gear[s], c.wheel[s]
	var over float64 // of the worst limit
	if g.own != nil {
		w, held := g.fromMatrix(c, s, gear, windingC)
		if held {
			return w
		}
		over = g.matrixOverrun(c, s, gear)
	}
	if g.extra != nil {
		wheel += g.extra[s]
	}
	if !(over > 0) {
		pt := g.at(c, s, gear, 1, wheel, windingC)
		if pt.Limit == drive.NoLimit {
			return working{pt.Terminal, pt.Copper, pt.Drag + g.bike.Thermal.ControllerShare*pt.Controller, 1}
		}
		over = g.overrun(pt)
	}
	pace, pt := g.slower(c, s, gear, wheel, windingC, over)
	return working{pt.Terminal, pt.Copper, pt.Drag + g.bike.Thermal.ControllerShare*pt.Controller, pace}
}

// slower finds the fastest pace that the drive can hold, where it cannot hold
// the course's own: slower, the road asks for less power, and the motor has
// voltage to spare. How far the worst limit is overrun falls steadily with pace.
// Where voltage is what lacks, it falls nearly in proportion, and more so by
// much the same part from one second to the next: the first guess is close.
// Else false position finds where the limit is just met.
func (g *rig) slower(c *course, s, gear int, wheel, windingC, over float64) (float64, drive.Point) {
	fast, high := 1.0, over
	plain := 1 / (1 + over)
	slow := min(1, plain*max(1, g.ease-justHeld/3))
	pt := g.at(c, s, gear, slow, wheel, windingC)
	for _, next := range [...]float64{plain, slowest} {
		if pt.Limit == drive.NoLimit {
			break
		}
		fast, high, slow = slow, g.overrun(pt), next
		pt = g.at(c, s, gear, slow, wheel, windingC)
	}
	if pt.Limit != drive.NoLimit { // it stalls: all it can give, at a crawl
		return slow, g.unit.Most(pt.Speed, windingC, c.d.OpenCircuit[s]+g.volts)
	}
	low := g.overrun(pt)
	for n := 0; n < 12 && low < -justHeld; n++ {
		pace := slow + (fast-slow)*low/(low-high)
		pace = min(max(pace, slow+0.05*(fast-slow)), fast-0.05*(fast-slow))
		at := g.at(c, s, gear, pace, wheel, windingC)
		if at.Limit != drive.NoLimit {
			fast, high = pace, g.overrun(at)
			continue
		}
		slow, low, pt = pace, g.overrun(at), at
	}
	g.ease = slow / plain
	return slow, pt
}

// justHeld is how far below its limit a drive may stay and still count as just
// holding a pace.
const justHeld = 0.01

// overrun is how far the worst limit is overrun, below zero within them all.
func (g *rig) overrun(pt drive.Point) float64 {
	return max(pt.Amps/g.unit.PhaseLimit, pt.MotorVolts/pt.BatteryVolts, pt.BatteryAmps/g.unit.BatteryLimit) - 1
}

// matrixOverrun is overrun at the course's own speed, by what the matrix says
// the gear would need.
func (g *rig) matrixOverrun(c *course, s, gear int) float64 {
	u, k := &g.unit, g.own.At(s, gear)
	terminal, heat, speed := float64(g.own.Terminal[k]), float64(g.own.BatteryHeat[k]), g.own.MotorSpeed(s, gear)
	amps := u.AmpsAtTerminal(speed, terminal, c.d.Winding[s])
	batteryAmps := (terminal + heat) / c.d.OpenCircuit[s]
	volts := c.d.OpenCircuit[s] - batteryAmps*u.BatteryOhm
	return g.overrun(drive.Point{
		Amps: amps, MotorVolts: u.K*speed + amps*u.Resistance(c.d.Winding[s]),
		BatteryVolts: volts, BatteryAmps: batteryAmps,
	})
}

// slowest is the least part of the course's speed that is tried.
const slowest = 0.1

// at is the drive at a part of the course's speed. Legs give the same power.
func (g *rig) at(c *course, s, gear int, pace, wheel, windingC float64) drive.Point {
	share := c.airShare(s)
	wheel *= pace * (share*pace*pace + 1 - share)
	return g.unit.AtWheel(g.all[gear], c.speed[s]*pace, wheel, c.legs[s], windingC, c.d.OpenCircuit[s]+g.volts)
}

// fromMatrix takes the second from the matrix, which was solved at the winding
// temperature of the ride; in the gear ridden, from what the log tells. The
// motor's current does not depend on that temperature, since the torque asked
// for is the same; its copper loss does.
func (g *rig) fromMatrix(c *course, s, gear int, windingC float64) (working, bool) {
	w, amps := working{c.d.Terminal[s], c.d.Copper[s], c.d.Drag[s] + g.bike.Thermal.ControllerShare*c.d.Controller[s], 1}, c.d.MotorAmps[s]
	if gear != c.inf.Index[s] {
		k := g.own.At(s, gear)
		terminal, speed := float64(g.own.Terminal[k]), g.own.MotorSpeed(s, gear)
		if g.own.Limits[k] != drive.NoLimit || math.IsNaN(terminal) || !(speed > 0) {
			return working{}, false
		}
		amps = g.unit.AmpsAtTerminal(speed, terminal, c.d.Winding[s])
		core := (g.unit.Coulomb+g.unit.Viscous*speed)*speed + g.bike.Thermal.ControllerShare*g.unit.ControllerLoss(amps)
		w = working{terminal, amps * amps * g.unit.Resistance(c.d.Winding[s]), core, 1}
	}
	hotter := amps * amps * (g.unit.Resistance(windingC) - g.unit.Resistance(c.d.Winding[s]))
	w.terminal += hotter
	w.copper += hotter
	return w, true
}

// firstKnown is the first known value of a column, else of another.
func firstKnown(column, other []float64) float64 {
	for _, v := range column {
		if !math.IsNaN(v) {
			return v
		}
	}
	if len(other) > 0 {
		return other[0]
	}
	return drive.ReferenceC
}

// known is v, or nothing where v is unknown.
func known(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return v
}

func part(some, all int) float64 {
	if all == 0 {
		return 1
	}
	return float64(some) / float64(all)
}
