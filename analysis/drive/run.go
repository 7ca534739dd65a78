package drive

import (
	"math"

	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
	"cogledger/analysis/road"
	"cogledger/ingest/ride"
)

// Options of Run. The zero value uses all that the log tells.
type Options struct {
	// Least is the least direct knowledge to use: FromRoad runs the ride as if
	// neither volts, amperes nor motor power had been logged, to see how well
	// the model alone does.
	Least Knowledge

	Into *Series // to fill and return, its memory used again; nil makes a new one
}

const (
	loadedW    = 15.0 // W at the shaft from which the motor counts as loaded
	idleW      = 1.0  // W at the shaft below which a modelled motor is off
	turning    = 1.0  // rpm of the crank from which the rider pedals
	rollingMPS = 0.5  // from which a bike rides
	coupled    = 0.5  // probability from which the crank is taken to drive the wheel
	bandVolts  = 0.5  // V to which the battery's voltage is rounded for the bands: rides on one bike share a table
	fadeMPS    = 0.5  // m/s over which assistance fades out above the cut-off speed
)

// HeatFade is the time in s over which the heat of seconds that the log tells
// stands in for that of seconds it does not.
const HeatFade = 60.0

// Run works out the drive's state for every second of a ride.
//
// Where volts and amperes are logged, the motor's current is the root of
// AtTerminal's equation; where the drive's output power is logged (taken at
// the unit's output, after its reduction), the current that gives it; where
// neither is, the motor is taken to give what the road asks beyond the
// rider's power, while the rider pedals below the cut-off speed.
func Run(r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, o Options) *Series {
	n := r.Len()
	x := newRun(r, p, inf, rd, o)
	nodes := NewNodes(p.Thermal, 1)
	air := newAir(r, p)
	winding, housing := air.start(r), air.start(r)
	meanCopper, meanCore, anyKnown := 0.0, 0.0, false
	var second second
	for i := range n {
		ambient := air.at(i)
		if r.Paused(i) {
			x.blank(i)
			winding, housing = nodes.Step(winding, housing, 0, 0, ambient)
			x.s.Winding[i], x.s.Housing[i] = winding, housing
			continue
		}
		x.look(i, &second)
		pt, known := second.solve(&x.unit, winding)
		if !known { // heat as of late, so that a gap in the data does not cool the motor
			mid, midHousing := nodes.Middle(winding, housing, meanCopper, meanCore, ambient)
			winding, housing = nodes.Step(winding, housing, meanCopper, meanCore, ambient)
			x.put(i, &second, &pt, false, mid, midHousing)
			continue
		}
		anyKnown = true
		mid, midHousing := nodes.Middle(winding, housing, pt.Copper, x.core(&pt), ambient)
		if pt.Amps != 0 {
			pt, _ = second.solve(&x.unit, mid)
		}
		if x.s.Knowledge == FromBattery {
			x.unit.fed(&pt, second.volts, second.amps, second.openCircuit)
		}
		winding, housing = nodes.Step(winding, housing, pt.Copper, x.core(&pt), ambient)
		meanCopper += (pt.Copper - meanCopper) / HeatFade
		meanCore += (x.core(&pt) - meanCore) / HeatFade
		x.put(i, &second, &pt, true, mid, midHousing)
	}
	if !anyKnown { // the air's temperature is not the motor's
		for i := range n {
			x.s.Winding[i], x.s.Housing[i] = math.NaN(), math.NaN()
		}
	}
	return x.s
}

// core is the heat in W that a point gives the motor's housing.
func (x *run) core(pt *Point) float64 { return pt.Drag + x.warms*pt.Controller }

// run holds what one pass over a ride looks up.
type run struct {
	s     *Series
	r     *ride.Ride
	unit  Unit
	bands *Bands
	rd    *road.Series
	inf   *gears.Inference

	warms  float64 // share of the controller's loss that warms the housing
	links  []link  // a gear
	middle int     // the gear whose chain stands in where the gear is unknown
	lag    int     // s by which speed trails the crank

	volts, amps, motor, rpm, cadence, legs, assist []float64 // nil where absent
	sensors                                        bike.Sensors
	assumedLegs                                    float64
	band                                           [2]float64 // rpm
}

// A link is one gear made ready: speeds and the slack's drag for each m/s of
// the bike.
type link struct {
	chain      chain
	drag       float64 // W
	motorSpeed float64 // rad/s
	cadence    float64 // rpm

	perChain, perHub, perMotorSpeed float64 // 1 over what the pins and the hub let through, and over motorSpeed
}

func (u Unit) links(all []bike.Gear) []link {
	links := make([]link, len(all))
	for k, g := range all {
		c, dragPerMPS := chainFor(g, u.circumference, u.ChainLoss)
		motor := u.speedPerMPS(g)
		links[k] = link{c, dragPerMPS, motor, u.CadenceRPM(1, g), 1 / (1 - c.pins), 1 / c.hub, 1 / motor}
	}
	return links
}

// at is the chain of a gear with the bike at a speed in m/s.
func (l *link) at(speed float64) chain {
	c := l.chain
	c.drag = l.drag * speed
	return c
}

// in is that of the chain with the bike at a speed, without a division.
func (l *link) in(outW, speed float64) float64 {
	outW *= l.perHub
	return min((outW+l.drag*speed)*l.perChain, outW*(1/worstChain))
}

func newRun(r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, o Options) *run {
	all := p.Gears()
	x := &run{
		s: o.Into, r: r, rd: rd, inf: inf,
		unit:   NewUnit(p).Rolling(inf.Circumference),
		warms:  p.Thermal.ControllerShare,
		middle: len(all) / 2, lag: int(math.Round(float64(inf.LagSeconds))),
		rpm: r.Column(ride.MotorRPM), cadence: r.Column(ride.CadenceRPM),
		legs: r.Column(ride.RiderPower), assist: r.Column(ride.AssistLevel),
		sensors: p.Sensors, assumedLegs: p.Legs.AssumedW, band: p.Legs.BandRPM,
	}
	if x.s == nil {
		x.s = new(Series)
	}
	x.s.size(r.Len())
	x.links = x.unit.links(all)
	x.s.LegsMeasured = x.legs != nil
	x.s.Knowledge = max(knowledge(r), o.Least)
	openCircuit := x.unit.OpenCircuitV
	switch x.s.Knowledge {
	case FromBattery:
		x.volts, x.amps = r.Column(ride.BatteryVolts), r.Column(ride.BatteryAmps)
		x.s.VoltsModelled = x.volts == nil
		if v := x.meanOpenCircuit(); v > 0 {
			openCircuit = v
		}
	case FromMotorPower:
		x.motor = r.Column(ride.MotorPower)
	}
	x.bands = x.s.bandsOf(&x.unit, math.Round(openCircuit/bandVolts)*bandVolts)
	return x
}

// knowledge picks the most direct channel that covers at least half of what
// the fullest of them covers.
func knowledge(r *ride.Ride) Knowledge {
	battery := count(r, ride.BatteryAmps)
	motor := count(r, ride.MotorPower)
	switch {
	case battery > 0 && 2*battery >= motor:
		return FromBattery
	case motor > 0:
		return FromMotorPower
	}
	return FromRoad
}

func count(r *ride.Ride, c ride.Channel) (n int) {
	for i, v := range r.Column(c) {
		if !math.IsNaN(v) && !r.Paused(i) {
			n++
		}
	}
	return n
}

func (x *run) meanOpenCircuit() float64 {
	var sum, n float64
	for i, v := range x.volts {
		if at := x.openCircuit(v, x.amps[i]); !math.IsNaN(at) {
			sum, n = sum+at, n+1
		}
	}
	return sum / n
}

func (x *run) openCircuit(volts, amps float64) float64 {
	return volts*x.sensors.BatteryVolts + amps*x.sensors.BatteryAmps*x.unit.BatteryOhm
}

// airTemperature is the logged air, held over gaps, else the profile's.
type airTemperature struct {
	logged []float64
	last   float64
}

func newAir(r *ride.Ride, p *bike.Profile) *airTemperature {
	a := &airTemperature{logged: r.Column(ride.AirTemp), last: p.Thermal.AmbientC}
	for _, t := range a.logged {
		if !math.IsNaN(t) {
			a.last = t
			break
		}
	}
	return a
}

func (a *airTemperature) at(i int) float64 {
	if a.logged != nil && !math.IsNaN(a.logged[i]) {
		a.last = a.logged[i]
	}
	return a.last
}

// start is how warm the motor is when the ride begins: by its own sensor where
// it reports within the first half minute, else as warm as the air.
func (a *airTemperature) start(r *ride.Ride) float64 {
	motor := r.Column(ride.MotorTemp)
	for i := range min(30, len(motor)) {
		if !math.IsNaN(motor[i]) {
			return motor[i]
		}
	}
	return a.last
}
