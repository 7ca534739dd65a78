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
}

// A working is one loaded second.
type working struct {
	terminal, copper, drag float64 // W
	pace                   float64 // speed held, as a part of the course's
}

// ride runs the rig over the course.
func (g *rig) ride(c *course) Outcome {
	o := Outcome{}
	nodes, limit := drive.NewNodes(g.bike.Thermal, 1), g.bike.Thermal.WindingLimit()
	winding := firstKnown(c.d.Winding, c.air)
	housing := firstKnown(c.d.Housing, c.air)
	o.WindingPeakC = winding
	var loaded, held, pedalling, legsOut int
	var battery, replayed, copper, late, lost float64
	var lately working // mean heat of the last minute, for seconds that do not tell
	for s := range c.claimed {
		w := working{terminal: known(c.d.Terminal[s]), copper: c.d.Copper[s], drag: c.d.Drag[s], pace: 1}
		switch {
		case c.r.Paused(s):
			w.copper, w.drag = 0, 0
		case math.IsNaN(w.copper):
			w.copper, w.drag = lately.copper, lately.drag
		}
		gear := g.gear[s]
		if c.claimed[s] && gear >= 0 {
			replayed += math.Abs(w.terminal)
			if c.d.LegsClass[s] > drive.LegsStill {
				pedalling++
				if rpm := g.unit.CadenceRPM(c.speed[s], g.all[gear]); rpm < g.bike.Legs.BandRPM[0] || rpm > g.bike.Legs.BandRPM[1] {
					legsOut++
				}
			}
			if c.d.Class[s].Loaded() {
				w = g.work(c, s, winding)
				loaded++
				if w.pace == 1 {
					held++
				} else {
					lost += 1 - w.pace
				}
			}
		}
		lately.copper += (w.copper - lately.copper) / heatFade
		lately.drag += (w.drag - lately.drag) / heatFade
		battery += w.terminal / w.pace
		copper += w.copper / w.pace
		late += 1/w.pace - 1
		for range steps(late, 1/w.pace) {
			winding, housing = nodes.Step(winding, housing, w.copper, w.drag, c.air[s])
			o.WindingPeakC = max(o.WindingPeakC, winding)
			if winding > limit {
				o.OverLimitS++
			}
		}
	}
	total := 0.0
	for _, t := range c.d.Terminal {
		total += math.Abs(known(t))
	}
	o.BatteryWh, o.CopperWh, o.LongerS = battery/joulesPerWh, copper/joulesPerWh, late
	o.FeasibleShare, o.SlowerBy = part(held, loaded), lost/float64(max(1, loaded-held))
	o.LegsOutShare = part(legsOut, pedalling)
	o.ReplayedShare = 1
	if total > 0 {
		o.ReplayedShare = replayed / total
	}
	return o
}

const (
	joulesPerWh = 3600
	heatFade    = 60 // s
)

// steps is how many whole seconds of heat a second ridden takes: one, and one
// more for each whole second by which the ride has fallen behind in it.
func steps(late, takes float64) int {
	return 1 + int(math.Floor(late)) - int(math.Floor(late-(takes-1)))
}

// work is the rig in a loaded second with its winding at windingC.
func (g *rig) work(c *course, s int, windingC float64) working {
	gear := g.gear[s]
	if g.own != nil {
		if w, ok := g.fromMatrix(c, s, gear, windingC); ok {
			return w
		}
	}
	wheel := c.wheel[s]
	if g.extra != nil {
		wheel += g.extra[s]
	}
	pt := g.at(c, s, gear, 1, wheel, windingC)
	if pt.Limit == drive.NoLimit {
		return working{pt.Terminal, pt.Copper, pt.Drag, 1}
	}
	pace, pt := g.slower(c, s, gear, wheel, windingC, pt)
	return working{pt.Terminal, pt.Copper, pt.Drag, pace}
}

// slower finds the fastest pace that the drive can hold, where it cannot hold
// the course's own: slower, the road asks for less power, and the motor has
// voltage to spare. How far the worst limit is overrun falls steadily with pace.
// Where voltage is what lacks, it falls nearly in proportion, and the first
// guess is close; else false position finds where the limit is just met.
func (g *rig) slower(c *course, s, gear int, wheel, windingC float64, full drive.Point) (float64, drive.Point) {
	fast, high := 1.0, g.overrun(full)
	slow := 1 / (1 + high)
	pt := g.at(c, s, gear, slow, wheel, windingC)
	if pt.Limit != drive.NoLimit {
		fast, high = slow, g.overrun(pt)
		slow = slowest
		if pt = g.at(c, s, gear, slow, wheel, windingC); pt.Limit != drive.NoLimit { // it stalls: all it can give, at a crawl
			return slow, g.unit.Most(pt.Speed, windingC, c.d.OpenCircuit[s]+g.volts)
		}
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
	return slow, pt
}

// justHeld is how far below its limit a drive may stay and still count as just
// holding a pace.
const justHeld = 0.01

// overrun is how far the worst limit is overrun, below zero within them all.
func (g *rig) overrun(pt drive.Point) float64 {
	return max(pt.Amps/g.unit.PhaseLimit, pt.MotorVolts/pt.BatteryVolts, pt.BatteryAmps/g.unit.BatteryLimit) - 1
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
	w, amps := working{c.d.Terminal[s], c.d.Copper[s], c.d.Drag[s], 1}, c.d.MotorAmps[s]
	if gear != c.inf.Index[s] {
		k := g.own.At(s, gear)
		terminal, speed := float64(g.own.Terminal[k]), g.own.MotorSpeed(s, gear)
		if g.own.Limits[k] != drive.NoLimit || math.IsNaN(terminal) || !(speed > 0) {
			return working{}, false
		}
		amps = g.unit.AmpsAtTerminal(speed, terminal, c.d.Winding[s])
		drag := (g.unit.Coulomb + g.unit.Viscous*speed) * speed
		w = working{terminal, amps * amps * g.unit.Resistance(c.d.Winding[s]), drag, 1}
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
	for _, v := range other {
		return v
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
