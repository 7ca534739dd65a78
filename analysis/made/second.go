package made

import "math"

// closeSecond books the last second's steps in the truth.
func (s *sim) closeSecond() {
	t := s.truth
	var book [AccountCount]float64
	var v, cadence, omega, amps, volts, current float64
	pushed := 0
	for k := range s.second {
		n := &s.second[k]
		for a, w := range n.book {
			book[a] += w
		}
		v += n.v
		cadence += n.cadence
		omega += n.omega
		amps += n.amps
		volts += n.battery.volts
		current += n.battery.amps
		if n.pushing {
			pushed++
		}
	}
	for a, w := range book {
		t.Power[a] = append(t.Power[a], w/perSecond)
	}
	t.Gear = append(t.Gear, s.mainGear())
	t.Pushing = append(t.Pushing, 2*pushed > perSecond)
	t.Speed = append(t.Speed, v/perSecond)
	t.CadenceRPM = append(t.CadenceRPM, cadence/perSecond*60/(2*math.Pi))
	t.MotorSpeed = append(t.MotorSpeed, omega/perSecond)
	t.MotorAmps = append(t.MotorAmps, amps/perSecond)
	t.Volts = append(t.Volts, volts/perSecond)
	t.Amps = append(t.Amps, current/perSecond)
	t.Altitude = append(t.Altitude, s.second[0].altitude)
	t.Winding = append(t.Winding, s.furnace.winding)
	t.Housing = append(t.Housing, s.furnace.housing)
	t.Charge = append(t.Charge, s.battery.charge)
	lugs := s.lugged()
	t.Lugging = append(t.Lugging, lugs)
	loss := 0.0
	if lugs {
		loss = s.luggingLoss(t.CadenceRPM[len(t.CadenceRPM)-1])
	}
	t.LuggingLoss = append(t.LuggingLoss, loss)
}

// mainGear is the gear in use for most of the second. Shifts are further apart
// than a second, so that two gears at most share one.
func (s *sim) mainGear() int {
	first, last, held := s.second[0].gear, s.second[perSecond-1].gear, 0
	for k := range s.second {
		if s.second[k].gear == first {
			held++
		}
	}
	if 2*held > perSecond {
		return first
	}
	return last
}

// lugged reports whether the motor lugged over the last second, taken at its
// mean shaft power and speed while it pushed.
func (s *sim) lugged() bool {
	var shaft, omega float64
	assisted := 0
	for k := range s.second {
		if n := &s.second[k]; n.assisting {
			shaft += (n.book[Reduction] + n.book[Chain] + n.book[Delivered])
			omega += n.omega
			assisted++
		}
	}
	if shaft/perSecond < restingW {
		return false
	}
	m := s.second[perSecond-1].machine
	return m.lugs(shaft/float64(assisted), omega/float64(assisted), s.lastVolts)
}

// The cadences that the legs can be asked to keep in another gear.
const (
	slowestRPM = 60
	fastestRPM = 100
)

// luggingLoss is the power out of the battery's cells, mean over the last
// second, that the best gear would have saved: at the same speed, with the same
// power at the wheel and the same from the legs. A gear counts that keeps the
// legs between 60 and 100 rpm, or at least no farther outside than they were,
// and that the drive's limits allow. Where none does better the loss is 0.
func (s *sim) luggingLoss(rpm float64) float64 {
	v, ridden := 0.0, 0.0
	for k := range s.second {
		n := &s.second[k]
		v += n.v / perSecond
		ridden += n.battery.load(n.terminal - n.spin).stored()
	}
	slow, fast := min(slowestRPM, rpm-0.5), max(fastestRPM, rpm+0.5)
	best := ridden
	for g := range s.gears {
		if rpm := v * 60 / s.development(g); rpm < slow || rpm > fast {
			continue
		}
		if other, ok := s.inGear(g, best); ok {
			best = other
		}
	}
	return (ridden - best) / perSecond
}

// inGear sums what the last second's steps would have taken from the cells in
// gear g, as long as it stays below the bound.
func (s *sim) inGear(g int, bound float64) (sum float64, ok bool) {
	for k := range s.second {
		n := &s.second[k]
		e := s.other(n, g)
		if e.limited {
			return 0, false
		}
		if sum += n.battery.load(e.terminal).stored(); sum >= bound {
			return 0, false
		}
	}
	return sum, true
}

// An effort is what one step would have asked of the motor in some gear.
type effort struct {
	omega, amps, terminal float64
	limited               bool // voltage, phase or battery current would not have held it
	book                  [AccountCount]float64
}

// other works out a step in another gear of a mid drive, at the same speed,
// wheel power and leg power. The rotor's catching up at the start of a push is
// left out: it comes in every gear.
func (s *sim) other(n *step, g int) effort {
	if !n.assisting || s.hub {
		return effort{omega: n.omega, amps: n.amps, terminal: n.terminal - n.spin, book: n.book}
	}
	crank := 2 * math.Pi / s.development(g) * n.v
	link := s.links[g]
	at := (n.driveWheel + s.guides[g]*crank) / (1 - link) // W at the chainring
	motor := at - n.legs
	perMetre := 2 * math.Pi / s.development(g) * s.motor.turns
	e := effort{omega: n.v * perMetre}
	b := &e.book
	if motor <= 0 {
		e.terminal = s.motor.fixed
		b[Controller] = e.terminal
		return e
	}
	through := motor / s.motor.reduction
	m := &n.machine
	if e.omega == 0 {
		return effort{terminal: n.terminal - n.spin, amps: n.amps, book: n.book}
	}
	torque := through/e.omega + s.motor.inertia*perMetre*n.accel
	e.amps = m.amps(torque, e.omega)
	e.terminal = m.terminal(e.amps, e.omega)
	e.limited = e.amps > s.motor.phaseLimit || m.k*e.omega+m.r*e.amps > n.battery.volts || e.terminal > n.mostPower
	b[Controller] = m.controller(e.amps)
	b[Copper] = m.r * e.amps * e.amps
	b[Drag] = m.drag(e.omega) * e.omega
	b[Rotor] = s.motor.inertia * perMetre * n.accel * e.omega
	b[Reduction] = through - motor
	b[Delivered] = n.motorWheel
	b[Chain] = motor - b[Delivered]
	return e
}
