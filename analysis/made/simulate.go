// Package made makes rides by forward simulation and keeps the truth of them:
// a rider with habits on a made road, gears, a motor with its firmware, a
// battery, wind, lights, and the devices that log it all badly.
//
// It knows more of the physics than the analysis does and shares nothing with
// it but the bike profile, so that a review of a made ride can be held against
// what really happened in it. What it knows more: gusts, magnets that weaken
// and grease that thins with heat, a winding whose resistance rises, cooling by
// the wind, a battery that sags slowly and grows weak when empty, friction of
// the single chain link, rough stretches, a pulsing crank, the rotor's inertia
// and freewheel, and time lost in a shift.
//
// A ride is the same for the same profile, scenario, rider and seed. The random
// draws are those of PCG and the same everywhere; where a processor fuses
// multiplication and addition, last digits can differ.
package made

import (
	"math"
	"math/rand/v2"

	"cogledger/analysis/bike"
)

const (
	perSecond = 10
	stepS     = 1.0 / perSecond
)

// mostSeconds ends a ride that gets nowhere.
const mostSeconds = 6 * 3600

// Simulate rides the course. The profile must have passed Check.
func Simulate(p *bike.Profile, sc Scenario, rd Rider, seed uint64) *Ride {
	if sc.Charge == 0 {
		sc.Charge = 1
	}
	if sc.Start.IsZero() {
		sc.Start = firstMonday()
	}
	s := newSim(p, sc, rd, seed)
	s.run()
	return &Ride{
		Name: sc.Name, Bike: p, Tracks: s.log.tracks(), Truth: s.truth,
		scenario: sc, rider: rd, seed: seed,
	}
}

// A sim is the state of a ride under way.
type sim struct {
	bike     *bike.Profile
	scenario Scenario
	course   *Course
	rider    Rider
	gears    []bike.Gear
	ladder   []int // indexes into gears, in the order in which a rider climbs them
	hub      bool

	motor   motor
	battery battery
	furnace furnace
	rollout float64   // m, the wheel's true circumference
	mass    float64   // with the wheels' inertia
	weight  float64   // N
	bearing float64   // factor on the drag of the wheels' bearings
	links   []float64 // share that each gear's chain loses
	guides  []float64 // N m at the crank that its guide wheels hold back
	density float64   // kg/m³ at the start
	wind    [2]float64

	chance *rand.Rand // weather and lights
	phase  float64    // s, of the lights
	mood   *rand.Rand // of the rider

	t, x, v   float64
	steps     int
	gust      float64
	rotor     float64 // rad/s
	lastVolts float64
	now       step // the step just made
	legs      legs
	brain     brain

	second [perSecond]step
	truth  *Truth
	log    *devices
	trace  func(*step) // sees every step; nil outside replays
}

// A step is what happened in one step of time, means over it.
type step struct {
	v, accel    float64
	gear        int
	cadence     float64 // rad/s of the crank
	omega       float64 // rad/s of the motor
	amps        float64
	assisting   bool
	pushing     bool
	legs        float64 // W at the crank
	motorWheel  float64 // W that the motor delivers at the wheel
	driveWheel  float64 // W at the wheel, motor and legs together
	terminal    float64 // W
	spin        float64 // W into the rotor to catch up with its clutch
	machine     machine
	battery     draw
	mostPower   float64
	book        [AccountCount]float64
	x, altitude float64
}

func newSim(p *bike.Profile, sc Scenario, rd Rider, seed uint64) *sim {
	s := &sim{
		bike: p, scenario: sc, course: sc.Course, rider: rd, gears: p.Gears(), hub: p.Drive.Kind == bike.Hub,
		motor: newMotor(p), battery: newBattery(p, sc.Charge), furnace: newFurnace(p, sc.AirC),
		rollout: p.Circumference(),
		weight:  p.Mass.Total() * gravity, bearing: factor(p.Road.BearingLossFactor),
		density: airDensity(sc.AirC, sc.Pressure),
		chance:  rand.New(rand.NewPCG(seed, 1)), mood: rand.New(rand.NewPCG(seed, 2)),
	}
	s.ladder = ladder(s.gears)
	s.mass = p.Mass.Total() + wheelsKg
	if !sc.Ideal {
		s.rollout *= 1 + 0.004*rand.New(rand.NewPCG(seed, 4)).NormFloat64()
	}
	from := sc.WindFrom * math.Pi / 180
	s.wind = [2]float64{-sc.WindMPS * math.Sin(from), -sc.WindMPS * math.Cos(from)}
	for _, g := range s.gears {
		s.links = append(s.links, chainLoss(g, factor(p.ChainLossFactor)))
		s.guides = append(s.guides, guideTorque(g, factor(p.ChainLossFactor)))
	}
	s.phase = 80 * s.chance.Float64()
	s.lastVolts = s.battery.openCircuit()
	s.brain.start(s)
	seconds := int(s.course.Length()/4.5) + 120
	s.truth = newTruth(sc, rd, seconds)
	s.log = newDevices(p, sc, seconds, s.rollout, rand.New(rand.NewPCG(seed, 3)))
	return s
}

func (s *sim) run() {
	for !s.brain.done && s.steps < mostSeconds*perSecond {
		for k := range perSecond {
			s.step()
			s.second[k] = s.now
			s.log.step(s, k)
			if s.trace != nil {
				s.trace(&s.now)
			}
		}
		s.closeSecond()
	}
	s.truth.finish(s.rider)
}

// step moves the ride on by stepS. Forces are those at its start; work is
// booked at its mean speed, so that the books close but for rounding.
func (s *sim) step() {
	c := s.course.at(s.x)
	s.brain.decide(s, c)
	p := s.push()
	air, rolling, bearings, climbing := s.resistance(c)
	net := p.force() - air - rolling - bearings - climbing
	inertia := s.mass + p.rotorMass(s.motor.inertia)
	brake := 0.0
	if s.brain.braking > 0 {
		brake = max(0, inertia*s.brain.braking+net)
	}
	v1 := s.v + stepS*(net-brake)/inertia
	if v1 < 0 || s.brain.holding {
		v1 = 0
		brake = net + inertia*s.v/stepS
	}
	accel, v := (v1-s.v)/stepS, (s.v+v1)/2

	now := step{
		v: v, accel: accel, gear: p.gear, assisting: p.assisting, amps: p.amps, machine: p.machine, mostPower: p.mostPower,
		pushing: p.legTorque > 0, x: s.x, altitude: s.course.height(s.x),
		cadence: s.legs.turn(v * p.crankPerMetre),
	}
	b := &now.book
	s.bookMotor(&now, &p)
	p.bookLegs(&now)
	b[Air], b[Rolling], b[Bearings], b[Climbing] = air*v, rolling*v, bearings*v, climbing*v
	b[Kinetic] = s.mass * accel * v
	b[Brakes] = brake * v
	now.battery = s.battery.load(now.terminal)
	b[Stored] = now.battery.open * now.battery.amps
	b[BatteryHeat] = (now.battery.open - now.battery.volts) * now.battery.amps

	s.furnace.heat(b[Copper], b[Drag]+s.bike.Thermal.ControllerShare*b[Controller], s.scenario.AirC, v, stepS)
	s.battery.take(now.battery.amps, stepS)
	s.lastVolts = now.battery.volts
	s.x += v * stepS
	s.v = v1
	s.steps++
	s.t = float64(s.steps) * stepS
	s.now = now
}

// resistance gives the forces of air, tyres, bearings and slope, N.
func (s *sim) resistance(c *cell) (air, rolling, bearings, climbing float64) {
	blow := 1.0
	if !s.scenario.Ideal {
		const gustS = 7.0
		s.gust += stepS/gustS*-s.gust + math.Sqrt(2*stepS/gustS)*s.chance.NormFloat64()
		blow = max(0, 1+0.3*s.gust)
	}
	tail := (s.wind[0]*c.east + s.wind[1]*c.north) * blow
	side := (s.wind[0]*c.north - s.wind[1]*c.east) * blow
	against := s.v - tail
	air = 0.5 * s.density * s.bike.Road.CdA * against * math.Sqrt(against*against+side*side)
	if s.v == 0 {
		return air, 0, 0, s.weight * c.slope
	}
	cos := math.Sqrt(1 - c.slope*c.slope)
	rolling = s.bike.Road.Crr * c.rough * s.weight * cos
	bearings = s.bearing * (91 + 8.7*s.v) / 1000
	return air, rolling, bearings, s.weight * c.slope
}
