package shifts

import (
	"math"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/road"
	"cogledger/ingest/ride"
)

// How strictly the plan keeps the legs in their band.
const (
	fastSlack  = 5   // rpm above it: who shifts down for a climb spins fast for a moment
	fastestRPM = 110 // beyond which no gear is planned
	legsSmooth = 2   // s to each side over which cadence is judged, so that one noisy second closes no gear
	mostNoise  = 0.1 // of speed; more than that is no noise
)

// What a shift costs beside its plain price; common practice.
const (
	unloadedShare = 0.25 // of the price, without load
	easedFactor   = 2    // prices, where the rider must ease off for the shift
	ringFactor    = 2    // a change of chainring is slower and rougher than one of cog
)

var nan = math.NaN()

// A course is the ride made ready for the planner.
type course struct {
	problem Problem
	claimed []bool // seconds in which gears can be compared
	known   int    // how many
	km      float64
}

// survey makes the ride a problem, whose costs it writes to cost.
func survey(r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, d *drive.Series, m *drive.Matrix, cost []float32) course {
	c := course{claimed: make([]bool, r.Len())}
	c.problem = Problem{
		Seconds: r.Len(), Gears: m.Gears,
		Cost:       cost,
		Rings:      max(1, len(p.Drivetrain.Chainrings)),
		RingFactor: ringFactor,
		PerCog:     p.Shifter() == bike.Derailleur,
		LeastDwell: p.Shifting.LeastDwellS,
		Ridden:     bridged(inf.Index),
	}
	c.problem.Weight, c.problem.Reach = shiftable(r, p, inf, rd, d, m)
	for s, g := range inf.Index {
		row := cost[s*m.Gears:][:m.Gears]
		if !Comparable(r, inf, d, m, s) {
			clear(row) // nothing is claimed: every gear costs nothing
			continue
		}
		c.claimed[s] = true
		c.known++
		price(row, p, rd, d, m, s, g)
	}
	if n := len(rd.Distance); n > 0 {
		c.km = (rd.Distance[n-1] - rd.Distance[0]) / 1000
	}
	return c
}

// Comparable reports whether gears can be compared in second s: the gear in use
// and the drive's state are known, and the matrix finds in that gear what the
// battery gave. Where it does not, the motor did not turn with the chain: it was
// spinning up or down, or the gear is another.
func Comparable(r *ride.Ride, inf *gears.Inference, d *drive.Series, m *drive.Matrix, s int) bool {
	g := inf.Index[s]
	if g < 0 || r.Paused(s) || d.Class[s] == drive.Unclassed {
		return false
	}
	gave, found := d.Terminal[s], float64(m.Terminal[m.At(s, g)])
	return math.Abs(found-gave) <= sameShare*math.Abs(gave)+sameW // not so for NaN
}

// Within these the matrix finds what the battery gave.
const (
	sameShare = 0.01
	sameW     = 0.5
)

// price fills in the cost of one second in every gear: what the battery's
// store gives, and what the legs dislike. A gear is open where the legs turn within
// their band or no further out than they did in the gear ridden. Where a gear
// takes more from the battery than the one ridden, legs that it pleases better
// earn nothing, or the plan would spend the battery on their comfort.
func price(cost []float32, p *bike.Profile, rd *road.Series, d *drive.Series, m *drive.Matrix, s, ridden int) {
	if d.LegsClass[s] <= drive.LegsStill && !d.Class[s].Loaded() { // nobody pushes
		for g := range cost {
			cost[g] = float32(m.Stored(s, g))
		}
		return
	}
	smooth := smoothing(rd, s)
	rpm := m.CadenceRPM(s, ridden) * smooth
	out, disliked, riddenStored := outOfBand(p, rpm), LegPrice(p, rpm), m.Stored(s, ridden)
	slow, fast := p.Legs.BandRPM[0]-out, min(fastestRPM, p.Legs.BandRPM[1]+max(fastSlack, out)) // bearable cadences
	limits := m.Limits[m.At(s, 0):][:len(cost)]
	for g := range cost {
		stored, rpm := m.Stored(s, g), m.CadenceRPM(s, g)*smooth
		switch {
		case g == ridden:
			cost[g] = float32(stored + disliked)
		case limits[g] != drive.NoLimit || stored != stored || !(slow <= rpm && rpm <= fast):
			cost[g] = float32(math.Inf(1))
		case stored > riddenStored:
			cost[g] = float32(stored + max(LegPrice(p, rpm), disliked))
		default:
			cost[g] = float32(stored + LegPrice(p, rpm))
		}
	}
}

// smoothing is what to multiply a cadence of second s with, to have the mean
// of the seconds around it. While speed changes fast it is not noise: 1.
func smoothing(rd *road.Series, s int) float64 {
	var around mean
	for u := max(0, s-legsSmooth); u <= min(len(rd.Speed)-1, s+legsSmooth); u++ {
		around.add(rd.Speed[u])
	}
	if f := around.value() / rd.Speed[s]; math.Abs(f-1) < mostNoise {
		return f
	}
	return 1
}

// LegPrice in W is what the profile's rider would pay not to turn the legs at
// this cadence: nothing within their band, outside it the price at 10 rpm times
// the square of the distance in tens of rpm.
func LegPrice(p *bike.Profile, cadenceRPM float64) float64 {
	out := outOfBand(p, cadenceRPM) / 10
	return p.Shifting.LegPriceW * out * out
}

// outOfBand is how many rpm a cadence lies outside the legs' band, 0 within it.
func outOfBand(p *bike.Profile, rpm float64) float64 {
	if p.Legs.BandRPM[0] <= rpm && rpm <= p.Legs.BandRPM[1] {
		return 0
	}
	return max(p.Legs.BandRPM[0]-rpm, rpm-p.Legs.BandRPM[1])
}

// shiftable tells what share of the price a shift into each second costs, and
// how many cogs it may move.
//
// A derailleur needs a chain that moves: its shifts fall between two seconds in
// both of which the cranks turn forward, move no more cogs than those two seconds
// have turns for, and never under full load. A gear hub shifts at rest or with
// the load off; a gearbox at any time. Common practice.
func shiftable(r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, d *drive.Series, m *drive.Matrix) (weight []float32, reach []uint8) {
	c := chainState{r: r, p: p, inf: inf, d: d, m: m, unit: drive.NewUnit(p), cadence: r.Column(ride.CadenceRPM)}
	weight = make([]float32, r.Len())
	kind := p.Shifter()
	if kind == bike.Derailleur {
		reach = make([]uint8, r.Len())
	}
	before, loadBefore := 0.0, light
	for s := range weight {
		load := c.load(s)
		switch {
		case kind == bike.Gearbox:
			weight[s] = 1
		case kind == bike.GearHub && (r.Paused(s) || !rd.Moving[s] || load == unloaded):
			weight[s] = unloadedShare
		case kind == bike.GearHub:
			weight[s] = float32(math.Inf(1))
		default:
			now := 0.0
			if !r.Paused(s) {
				now = c.crankRPM(s)
			}
			weight[s], reach[s] = float32(math.Inf(1)), 0
			if worst := max(load, loadBefore); before > 0 && now > 0 && worst < full {
				weight[s] = [...]float32{unloaded: unloadedShare, light: 1, heavy: easedFactor}[worst]
				reach[s] = uint8(max(1, min(mostGears, p.Shifting.CogsPerTurn*(before+now)/60)))
			}
			before = now
		}
		loadBefore = load
	}
	return weight, reach
}

// chainState looks up whether the chain moves and how it is loaded.
type chainState struct {
	r       *ride.Ride
	p       *bike.Profile
	inf     *gears.Inference
	d       *drive.Series
	m       *drive.Matrix
	unit    drive.Unit
	cadence []float64
}

// turningRPM of the crank is the least that moves a chain on.
const turningRPM = 10

// crankRPM of second s as logged, or where that is not, as gear and speed tell
// while legs or a mid motor push; 0 where the cranks stand or nothing tells.
func (c *chainState) crankRPM(s int) float64 {
	rpm := nan
	if c.cadence != nil {
		rpm = c.cadence[s]
	}
	if rpm != rpm && c.inf.Index[s] >= 0 && (c.d.LegsClass[s] > drive.LegsStill || c.d.Class[s].Loaded() && !c.unit.Hub()) {
		rpm = c.m.CadenceRPM(s, c.inf.Index[s])
	}
	if rpm >= turningRPM {
		return rpm
	}
	return 0
}

// How a chain is loaded in one second.
const (
	unloaded = iota
	light
	heavy // the rider must ease off for a shift
	full  // the motor gives all it may
)

// load of the chain, or in a gear hub of its gears, in second s.
func (c *chainState) load(s int) int {
	if c.d.Class[s] == drive.Unclassed {
		return light
	}
	if c.d.Class[s] <= drive.Coasting || c.unit.Hub() && c.d.LegsClass[s] <= drive.LegsStill {
		return unloaded
	}
	if !c.unit.Hub() && (c.d.MotorAmps[s] >= fullShare*c.unit.PhaseLimit || c.d.Amps[s] >= fullShare*c.unit.BatteryLimit) {
		return full
	}
	power := max(0, c.d.Legs[s])
	if !c.unit.Hub() {
		power += max(0, c.d.Shaft[s]*c.unit.Reduction)
	}
	if rpm := c.crankRPM(s); rpm > 0 && power*rpmPerRadS > c.p.Shifting.LightNm*rpm {
		return heavy
	}
	return light
}

// bridged fills the unknown seconds with the last gear known before them, those
// at the start with the first known; nil when none is known. A shift back and
// forth in between is not counted against the ride.
func bridged(index []int) []int {
	path := make([]int, len(index))
	last, first := gears.Unknown, len(index)
	for s, g := range index {
		if g >= 0 {
			if last < 0 {
				first = s
			}
			last = g
		}
		path[s] = last
	}
	if last < 0 {
		return nil
	}
	for s := range first {
		path[s] = path[first]
	}
	return path
}

// priced is the cost of a path at a price a shift.
func (p *Problem) priced(path []int, price float64) float64 {
	sum := 0.0
	for s, g := range path {
		sum += float64(p.Cost[s*p.Gears+g])
		if s > 0 && g != path[s-1] {
			own := p.Ridden != nil && p.Ridden[s] == g && p.Ridden[s-1] == path[s-1]
			sum += price * p.weight(s, own) * p.between(path[s-1], g)
		}
	}
	return sum
}
