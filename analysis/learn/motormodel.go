package learn

import (
	"math"
	"slices"
)

// motorModel is the equation of Motor.
type motorModel struct {
	ohmShare float64 // the controller's ohm/k²
	levels   int
}

// Places of the parameters in the fit; the levels' factors follow, and how each
// ride's torque sensor read.
const (
	logCopper = iota // ln(R25/k²)
	coulomb
	viscous
	voltShare // volt/k
	fixed
	shared
)

// torque is the electric torque t in N m for which the battery's power pays.
func (m motorModel) torque(x *pushSecond, theta []float64) float64 {
	a := (math.Exp(theta[logCopper])*x.warmth + m.ohmShare) * x.swing
	b := x.speed + theta[voltShare]
	c := x.terminal - theta[fixed]
	return 2 * c / (b + math.Sqrt(max(0, b*b+4*a*c)))
}

// legs is the rider's mean torque in N m that explains the battery's power.
func (m motorModel) legs(x *push, theta []float64) float64 {
	sum := 0.0
	for i := range x.seconds {
		s := &x.seconds[i]
		sum += m.torque(s, theta) - theta[coulomb] - theta[viscous]*s.speed
	}
	return sum / float64(len(x.seconds)) / theta[shared+x.level]
}

// follows is what the motor gave over what it would give in proportion to the
// rider's torque.
func (m motorModel) follows(x *push, theta []float64) float64 {
	return m.legs(x, theta) / x.legs * theta[shared+m.levels+x.ride]
}

// need is the part of the battery's voltage that the motor needs, by a torque
// constant.
func (m motorModel) need(x *push, theta []float64, k float64) float64 {
	sum := 0.0
	for i := range x.seconds {
		s := &x.seconds[i]
		sum += k * (s.speed + math.Exp(theta[logCopper])*s.warmth*m.torque(s, theta)) / s.volts
	}
	return sum / float64(len(x.seconds))
}

// solve fits the model to the pushes that no limit of the drive shaped.
func (m motorModel) solve(f fit, all pushes, about float64) (s solution, held []push, err error) {
	held = m.belowCeilings(all, f.mean, about)
	if n := seconds(held); n < leastMotorSeconds {
		return s, nil, refuse("%d s below the limits of assistance are too few, %d are needed", n, leastMotorSeconds)
	}
	f.count = len(held)
	f.follows = func(k int) bool { return held[k].ride == held[k-1].ride }
	f.residuals = func(theta, out []float64) {
		for i := range held {
			out[i] = (1 - m.follows(&held[i], theta)) * held[i].weight()
		}
	}
	s, ok := f.solve()
	if !ok {
		return s, nil, refuse("the battery's power does not follow speed and torque")
	}
	if s.spread > loosest {
		return s, nil, refuse("assistance does not follow the rider's torque (it scatters by %.0f %%)", 100*s.spread)
	}
	return s, held, nil
}

// Parts of the most torque, power and voltage from which a limit may shape a
// push. Legs swing the torque by a sixth about its mean even behind a drive's
// filter, and what a limit cuts off would pass for copper loss that is not there.
const (
	nearMost    = 0.8
	nearVoltage = 0.92
)

// belowCeilings leaves out the pushes near a level's most torque or most power,
// and those near the end of the battery's voltage. It looks at the motor's side,
// which is exact, so that it does not favour errors of one sign.
func (m motorModel) belowCeilings(all pushes, theta []float64, about float64) (held []push) {
	mostTorque, mostPower := make([]float64, len(all.levels)), make([]float64, len(all.levels))
	for level, seconds := range all.levels {
		torque, power := make([]float64, len(seconds)), make([]float64, len(seconds))
		for k := range seconds {
			torque[k] = m.torque(&seconds[k], theta)
			power[k] = torque[k] * seconds[k].speed
		}
		mostTorque[level], mostPower[level] = almostMost(torque), almostMost(power)
	}
	for i := range all.steady {
		x := &all.steady[i]
		torque, power := 0.0, 0.0
		for k := range x.seconds {
			t := m.torque(&x.seconds[k], theta) / float64(len(x.seconds))
			torque, power = torque+t, power+t*x.seconds[k].speed
		}
		if torque < nearMost*mostTorque[x.level] && power < nearMost*mostPower[x.level] && m.need(x, theta, about) < nearVoltage {
			held = append(held, *x)
		}
	}
	return held
}

// almostMost is the highest value but for the odd one.
func almostMost(x []float64) float64 {
	slices.Sort(x)
	return x[len(x)*99/100]
}

// constantFromVoltage finds the torque constant where the voltage runs out:
// fast seconds in which the motor falls short of the rider's torque. There
//
//	k w + I R = V with I = t/k, hence k = V/(w + (R/k²) t).
func (m motorModel) constantFromVoltage(pushes []push, theta []float64, about float64) (k, doubt float64, told bool) {
	const (
		least  = 20   // s
		short  = 0.93 // of the torque in proportion
		almost = 0.85 // of the voltage, by the profile's constant
		spread = 0.03 // of k, beyond which the seconds do not agree
	)
	var found []float64
	for i := range pushes {
		x := &pushes[i]
		if m.follows(x, theta) > short || m.need(x, theta, about) < almost {
			continue
		}
		for k := range x.seconds {
			s := &x.seconds[k]
			found = append(found, s.volts/(s.speed+math.Exp(theta[logCopper])*s.warmth*m.torque(s, theta)))
		}
	}
	if len(found) < least {
		return 0, 0, false
	}
	k = median(found)
	away := make([]float64, len(found))
	for i, v := range found {
		away[i] = v - k
	}
	scatter := robustSpread(away) / k
	if scatter > spread {
		return 0, 0, false
	}
	// Neighbouring seconds are alike: one in five counts as news. Meter and
	// motor speed carry about a per cent between them.
	return k, math.Hypot(z90*scatter/math.Sqrt(float64(len(found))/5), 0.01), true
}
