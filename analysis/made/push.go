package made

import "math"

// A push is what legs and motor do in one step.
type push struct {
	gear          int
	hub           bool
	legTorque     float64 // N m at the crank
	amps          float64 // of the motor
	assisting     bool
	rotorTurns    bool    // with the wheel: it pushes, or has no clutch
	omega         float64 // rad/s of a coupled rotor at the step's start
	crankPerMetre float64 // rad of a taut crank, of the motor, for each metre of road
	motorPerMetre float64
	link          float64 // share lost in the chain
	guide         float64 // N m of drag at the chainring while the chain is taut
	motorShare    float64 // of the torque through the chain
	reduction     float64 // efficiency
	machine       machine
	mostPower     float64
}

func (s *sim) push() push {
	gear := s.gear()
	perMetre := 2 * math.Pi / s.rollout
	p := push{
		gear: gear, hub: s.hub, link: s.links[gear], reduction: s.motor.reduction,
		legTorque:     s.legs.pedal(s),
		crankPerMetre: perMetre / s.gears[gear].Ratio,
		motorPerMetre: perMetre * s.motor.turns,
		machine:       s.motor.at(s.furnace.winding, s.furnace.housing),
		mostPower:     s.battery.mostPower(s.motor.batteryLimit),
	}
	if !s.hub {
		p.motorPerMetre = p.crankPerMetre * s.motor.turns
	}
	p.omega = s.v * p.motorPerMetre
	p.amps, p.assisting = s.command(&p)
	p.rotorTurns = p.assisting || !s.motor.clutch
	through := p.legTorque
	if !s.hub && p.assisting {
		motor := s.motor.turns * p.reduction * p.shaftTorque()
		through += motor
		p.motorShare = motor / through
	}
	if through > 0 {
		p.guide = s.guides[gear]
	}
	if p.shaftTorque() < 0 {
		p.reduction = 1 / p.reduction // dragged along, its gears lose the other way
	}
	return p
}

// shaftTorque is what is left of the motor's torque after its drag.
func (p *push) shaftTorque() float64 { return p.machine.k*p.amps - p.machine.drag(p.omega) }

// force is what legs and motor give at the wheel at steady speed, N.
func (p *push) force() float64 {
	f := (p.legTorque*(1-p.link) - p.guide) * p.crankPerMetre
	if p.rotorTurns {
		f += p.reach() * p.shaftTorque()
	}
	return f
}

// reach is the force at the wheel for each N m at the motor's shaft.
func (p *push) reach() float64 {
	if p.hub {
		return p.reduction * p.motorPerMetre
	}
	return p.reduction * (1 - p.link) * p.motorPerMetre
}

// rotorMass is what the rotor's inertia adds to the bike's mass.
func (p *push) rotorMass(inertia float64) float64 {
	if !p.rotorTurns {
		return 0
	}
	return inertia * p.motorPerMetre * p.reach()
}

// bookMotor books the drive's side of the step up to the wheel, and turns the
// rotor.
func (s *sim) bookMotor(n *step, p *push) {
	b, m := &n.book, &p.machine
	b[Controller] = m.controller(p.amps)
	n.terminal = b[Controller]
	if !p.rotorTurns {
		after := max(0, s.rotor-stepS*m.drag(s.rotor)/m.inertia)
		lost := m.inertia * (s.rotor*s.rotor - after*after) / 2 / stepS
		b[Rotor], b[Drag] = -lost, lost
		n.omega, s.rotor = (s.rotor+after)/2, after
		return
	}
	omega := n.v * p.motorPerMetre
	spinUp := m.inertia * p.motorPerMetre * n.accel * omega
	through := p.shaftTorque()*omega - spinUp
	b[Copper] = m.r * p.amps * p.amps
	b[Drag] = m.drag(p.omega) * omega
	b[Rotor] = spinUp
	b[Reduction] = (1 - p.reduction) * through
	b[Delivered] = through - b[Reduction]
	if !p.hub {
		b[Chain] = p.link*b[Delivered] + p.motorShare*p.guide*n.v*p.crankPerMetre
		b[Delivered] -= b[Chain]
	}
	n.terminal += m.k*p.amps*omega + b[Copper]
	// A rotor slower than its clutch is first brought up by current; a faster
	// one has been slowed by its drag.
	catchUp := m.inertia * (p.omega*p.omega - s.rotor*s.rotor) / 2 / stepS
	b[Rotor] += catchUp
	if catchUp > 0 {
		n.spin = catchUp
		n.terminal += catchUp
	} else {
		b[Drag] -= catchUp
	}
	n.omega, s.rotor = omega, p.omega+n.accel*stepS*p.motorPerMetre
}

// bookLegs books the rider's side up to the wheel.
func (p *push) bookLegs(n *step) {
	crank := n.v * p.crankPerMetre
	n.legs = p.legTorque * crank
	n.book[Legs] = n.legs
	n.book[LegsChain] = p.link*n.legs + (1-p.motorShare)*p.guide*crank
	n.motorWheel = n.book[Delivered]
	n.driveWheel = n.motorWheel + n.legs - n.book[LegsChain]
}

// command is the firmware: torque in proportion to the rider's, faded out at
// the cut-off speed and held within its level and the drive's limits.
func (s *sim) command(p *push) (amps float64, assisting bool) {
	a := levels(s.brain.level)
	fade := min(max((s.bike.Assist.CutoffKmh/3.6+0.15-s.v)/0.3, 0), 1)
	felt := s.legs.felt // N m, as the torque sensor's filter sees it
	switch {
	case fade == 0, a.factor == 0, felt < 0.8, s.legs.state != pushing, s.brain.shiftLeft > 0 && !s.brain.loaded, s.battery.charge < emptyCharge:
		return 0, false
	}
	var torque float64 // at the motor's shaft
	if s.hub {
		wheel := min(a.factor*felt/s.gears[p.gear].Ratio, a.wheelNm)
		torque = min(wheel, a.mostW/max(s.v*2*math.Pi/s.rollout, 0.5))
	} else {
		torque = min(a.factor*felt, a.mostNm, a.mostW/max(s.v*p.crankPerMetre, 0.5))
	}
	torque *= fade / (s.motor.turns * s.motor.reduction)
	m := &p.machine
	amps = min(m.amps(torque, p.omega), m.most(p.omega, s.lastVolts, p.mostPower))
	if m.k*amps <= m.drag(p.omega) {
		return 0, false // the clutch would let go
	}
	return amps, true
}

// emptyCharge is the charge at which the battery's own guard cuts the drive off.
const emptyCharge = 0.02
