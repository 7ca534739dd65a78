package drive

import "math"

// A Point is the drive at one working point. Powers in W; they balance:
//
//	Terminal = Shaft + Copper + Drag + Controller
//	open-circuit volts * BatteryAmps = Terminal + BatteryHeat
type Point struct {
	Speed float64 // rad/s
	Amps  float64 // motor current, negative while it brakes

	Shaft      float64 // out of the motor's shaft, before the reduction
	Copper     float64
	Drag       float64 // iron, bearings, windage
	Controller float64
	Terminal   float64 // out of the battery's terminals, negative while charging

	MotorVolts   float64
	BatteryVolts float64 // under this load
	BatteryAmps  float64
	BatteryHeat  float64

	Limit Limit // what forbids this point; the numbers are then those it would need
}

// Torque at the shaft in Nm; at standstill it is not Shaft/Speed.
func (pt Point) torque(u Unit) float64 { return u.K*pt.Amps - u.Coulomb - u.Viscous*pt.Speed }

// Torque of the motor in Nm at its shaft at speed (rad/s) and motor current.
func (u Unit) Torque(speed, amps float64) float64 {
	return Point{Speed: speed, Amps: amps}.torque(u)
}

// Efficiency from the battery's terminals to the motor's shaft, 0 to 1; NaN
// unless the motor takes power and gives some.
func (pt Point) Efficiency() float64 {
	if pt.Shaft <= 0 || pt.Terminal <= 0 {
		return math.NaN()
	}
	return pt.Shaft / pt.Terminal
}

// AtAmps is the drive at a motor speed (rad/s), a motor current (A), a winding
// temperature (°C) and the battery's voltage at rest (V).
func (u *Unit) AtAmps(speed, amps, windingC, openCircuitV float64) (pt Point) {
	u.turn(&pt, speed, amps, windingC)
	u.feed(&pt, openCircuitV)
	return pt
}

// turn is AtAmps without the battery's side.
func (u *Unit) turn(pt *Point, speed, amps, windingC float64) {
	r := u.Resistance(windingC)
	drag := u.Coulomb + u.Viscous*speed
	pt.Speed, pt.Amps = speed, amps
	pt.Shaft = (u.K*amps - drag) * speed
	pt.Copper = amps * amps * r
	pt.Drag = drag * speed
	pt.Controller = u.ControllerLoss(amps)
	pt.MotorVolts = u.K*speed + amps*r
	pt.Terminal = pt.MotorVolts*amps + pt.Controller
}

// AtShaft is the drive that gives shaftW at a speed above zero. At standstill
// power does not tell the current: the motor is then idle; ask AtTorque.
func (u *Unit) AtShaft(speed, shaftW, windingC, openCircuitV float64) Point {
	if speed <= 0 {
		return u.Off(0, openCircuitV)
	}
	return u.AtTorque(speed, shaftW/speed, windingC, openCircuitV)
}

// slowest is the speed in rad/s below which the motor's current limit does not
// let it give shaftW.
func (u *Unit) slowest(shaftW float64) float64 {
	torque := u.K*u.PhaseLimit - u.Coulomb
	if torque <= 0 {
		return 0
	}
	return shaftW / torque
}

// AtTorque is the drive that gives a torque (Nm) at its shaft.
func (u *Unit) AtTorque(speed, torque, windingC, openCircuitV float64) Point {
	return u.AtAmps(speed, (torque+u.Coulomb+u.Viscous*speed)/u.K, windingC, openCircuitV)
}

// AtTerminal is the drive that draws terminalW from the battery's terminals;
// see AmpsAtTerminal. If the motor at this speed cannot charge that much, the
// result is its strongest charging and has a Terminal above the one asked for.
func (u *Unit) AtTerminal(speed, terminalW, windingC, openCircuitV float64) Point {
	return u.AtAmps(speed, u.AmpsAtTerminal(speed, terminalW, windingC), windingC, openCircuitV)
}

// AmpsAtTerminal is the motor current with which the drive draws terminalW from
// the battery's terminals. Pushing, it is the positive root of
//
//	(R + Ohm) I² + (K w + Volt) I + Fixed - P = 0.
//
// Braking, Volt changes its sign and two currents give the same power; the
// smaller one is meant, for the larger only heats.
func (u *Unit) AmpsAtTerminal(speed, terminalW, windingC float64) float64 {
	a := u.Resistance(windingC) + u.Ohm
	surplus := terminalW - u.Fixed
	if surplus >= 0 {
		b := u.K*speed + u.Volt
		if surplus == 0 {
			return 0
		}
		return 2 * surplus / (b + math.Sqrt(b*b+4*a*surplus))
	}
	b := max(0, u.K*speed-u.Volt)
	if b == 0 {
		return 0
	}
	return 2 * surplus / (b + math.Sqrt(max(0, b*b+4*a*surplus)))
}

// Off is the drive switched on with its motor idle behind the clutch: the
// battery feeds terminalW to the controller alone.
func (u *Unit) Off(terminalW, openCircuitV float64) Point {
	pt := off(terminalW)
	u.feed(&pt, openCircuitV)
	return pt
}

func off(terminalW float64) Point { return Point{Controller: terminalW, Terminal: terminalW} }

// Most is the strongest push at a speed within every limit; its Limit names
// the one that ends it. Shaft is zero or less above the speed that the
// battery's voltage can reach.
func (u *Unit) Most(speed, windingC, openCircuitV float64) Point {
	amps, limit := u.PhaseLimit, PhaseLimit
	most := u.BatteryLimit
	if u.BatteryOhm > 0 {
		most = min(most, openCircuitV/(2*u.BatteryOhm))
	}
	if fed := u.AtTerminal(speed, most*(openCircuitV-most*u.BatteryOhm), windingC, openCircuitV).Amps; fed < amps {
		amps, limit = fed, BatteryLimit
	}
	if v := u.voltageAmps(speed, windingC, openCircuitV); v < amps {
		amps, limit = v, VoltageLimit
	}
	pt := u.AtAmps(speed, amps, windingC, openCircuitV)
	pt.Limit = limit
	return pt
}

// voltageAmps is the motor current at which the battery's voltage under load
// is used up. With E = K w and battery current (Voc - V)/Rb at V = E + R I:
//
//	(E + R I)(Voc - E - R I) = Rb (Fixed + (Volt + E) I + (Ohm + R) I²)
func (u *Unit) voltageAmps(speed, windingC, openCircuitV float64) float64 {
	r, rb, e := u.Resistance(windingC), u.BatteryOhm, u.K*speed
	a := r*r + rb*(u.Ohm+r)
	b := rb*(u.Volt+e) - r*(openCircuitV-2*e)
	c := rb*u.Fixed - e*(openCircuitV-e)
	disc := b*b - 4*a*c
	if e >= openCircuitV {
		return 0
	}
	amps := (-b + math.Sqrt(disc)) / (2 * a)
	// Below half its voltage at rest the battery gives less the harder it is
	// drawn on: its own limit comes first, and this one never does.
	if disc < 0 || e+r*amps < openCircuitV/2 {
		return math.Inf(1)
	}
	return max(0, amps)
}

// feed adds the battery's side to a point and names the limit it breaks.
func (u *Unit) feed(pt *Point, openCircuitV float64) {
	amps, volts := u.battery(pt.Terminal, openCircuitV)
	u.fed(pt, volts, amps, openCircuitV)
}

// fed is feed where the battery's volts and amperes are known.
func (u *Unit) fed(pt *Point, volts, amps, openCircuitV float64) {
	pt.BatteryAmps, pt.BatteryVolts = amps, volts
	pt.BatteryHeat = amps * (openCircuitV - volts)
	pt.Limit = u.limit(pt.Amps, pt.MotorVolts, pt.BatteryVolts, pt.BatteryAmps)
}

// limit names what forbids a point.
func (u *Unit) limit(amps, motorVolts, batteryVolts, batteryAmps float64) Limit {
	switch {
	case math.Abs(amps) > u.PhaseLimit*(1+limitSlack):
		return PhaseLimit
	case motorVolts > batteryVolts*(1+limitSlack) && amps > 0:
		return VoltageLimit
	case batteryAmps > u.BatteryLimit*(1+limitSlack):
		return BatteryLimit
	}
	return NoLimit
}

// limitSlack keeps a point that sits on its limit from being called beyond it
// by a rounding error.
const limitSlack = 1e-9

// battery solves P = I (Voc - I Rb) for the smaller current. Past the most the
// battery can give, Voc²/(4 Rb), it is taken to hold half its voltage, which
// breaks every other limit first.
func (u *Unit) battery(terminalW, openCircuitV float64) (amps, volts float64) {
	if terminalW == 0 {
		return 0, openCircuitV
	}
	root := openCircuitV*openCircuitV - 4*u.BatteryOhm*terminalW
	if root < 0 {
		return terminalW / (openCircuitV / 2), openCircuitV / 2
	}
	volts = (openCircuitV + math.Sqrt(root)) / 2
	return terminalW / volts, volts
}

// ControllerLoss is what the controller takes in W at a motor current in A.
func (u *Unit) ControllerLoss(amps float64) float64 {
	return u.Fixed + u.Volt*math.Abs(amps) + u.Ohm*amps*amps
}
