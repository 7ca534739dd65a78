package learn

import (
	"fmt"
	"math"
	"slices"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
)

// A MotorFit is what the battery's power, the motor's speed and the rider's
// torque tell of a motor.
//
// Volts and amperes at the battery cannot tell torque constant and resistance
// apart: a motor of twice the constant and four times the resistance draws the
// same at every speed and torque. What they tell is the motor constant
// k/sqrt(R), torque per root of heat, and that is what losses rest on. The
// torque constant itself shows only where the voltage runs out; where the log
// holds no such seconds it stays as the profile has it, and the resistance
// follows from it.
type MotorFit struct {
	MotorConstant  doubt.Figure // k/sqrt(R25), N m per root watt
	Resistance     doubt.Figure // ohm at 25 °C, with the torque constant below
	TorqueConstant doubt.Figure // N m/A
	ConstantTold   bool         // the log told the torque constant; false: it is the profile's
	Coulomb        doubt.Figure // N m
	Viscous        doubt.Figure // N m s/rad
	Seconds        int          // that told
}

const (
	leastMotorSeconds = 300
	leastSpeedRange   = 1.4  // ninth tenth of motor speed over first tenth
	leastNews         = 0.75 // interval after the logs over the one before, above which they told nothing
	loosest           = 0.12 // scatter about proportional assistance, as a share of torque
)

// Motor learns a mid drive's motor from rides with volts, amperes, the rider's
// power and the motor's speed.
//
// Such drives sense the rider's torque T and add their own in proportion, with
// one unknown factor a for each level of assistance. The same torque at many
// speeds then splits the battery's power into work, which grows with speed,
// copper loss, which does not, and drag:
//
//	P = fixed + t w + (volt/k) t + ((R(T) + ohm)/k²) t²,  t = a T + Coulomb + Viscous w
//
// Power and speed are exact beside torque, so T is foretold from them, not the
// other way about: errors in T would flatten the copper loss away. The factors
// are free; drag, controller and the motor constant itself start from the
// profile and its tolerances. The fit is refused where assistance does not
// follow the rider's torque, and where it tells nothing that the profile did
// not.
func Motor(rides []Read, p *bike.Profile) (MotorFit, error) {
	f, err := fitMotor(rides, p)
	if err != nil {
		return MotorFit{}, fmt.Errorf("motor: %w", err)
	}
	return f, nil
}

// Places of the parameters in the fit; the levels' factors follow.
const (
	logCopper = iota // ln(R25/k²)
	coulomb
	viscous
	voltShare // volt/k
	fixed
	shared
)

func fitMotor(rides []Read, p *bike.Profile) (m MotorFit, err error) {
	if p.Drive.Kind != bike.Mid {
		return m, refuse("a hub motor does not turn with the crank that the rider's torque is known at")
	}
	unit := drive.NewUnit(p)
	pushes, levels := steadyPushes(rides, p, unit)
	if len(pushes) < leastMotorSeconds {
		return m, refuse("%d s with volts, amperes and steady rider power are too few, %d are needed", len(pushes), leastMotorSeconds)
	}
	speeds := make([]float64, len(pushes))
	for i, x := range pushes {
		speeds[i] = x.speed
	}
	slices.Sort(speeds)
	if span := speeds[len(speeds)*9/10] / speeds[len(speeds)/10]; span < leastSpeedRange {
		return m, refuse("motor speeds are all alike (a factor of %.2f)", span)
	}

	model := motorModel{ohmShare: unit.Ohm / (unit.K * unit.K)}
	kDoubt := tolerance(p, "motor.torque_constant_nm_per_a")
	before := math.Hypot(tolerance(p, "motor.resistance_ohm"), 2*kDoubt) // 90 % half width of R/k²
	f := fit{
		mean: []float64{math.Log(unit.R25 / (unit.K * unit.K)), unit.Coulomb, unit.Viscous, unit.Volt / unit.K, unit.Fixed},
		sigma: []float64{
			before / z90, hold(p, "motor.coulomb_torque_nm", unit.Coulomb), hold(p, "motor.viscous_nm_per_rad_s", unit.Viscous),
			hold(p, "controller.volt", unit.Volt/unit.K), hold(p, "controller.fixed_w", unit.Fixed),
		},
		step:    []float64{1e-4, 1e-5, 1e-7, 1e-4, 1e-3},
		doubled: true,
	}
	held := model.belowCeilings(pushes, levels, f.mean, unit.K)
	if len(held) < leastMotorSeconds {
		return m, refuse("%d s below the limits of assistance are too few, %d are needed", len(held), leastMotorSeconds)
	}
	f.count = len(held)
	f.follows = func(k int) bool { return held[k].second == held[k-1].second+1 }
	for level := range levels {
		f.mean = append(f.mean, firstFactor(held, level))
		f.sigma, f.step = append(f.sigma, math.Inf(1)), append(f.step, 1e-6)
	}
	f.residuals = func(theta, out []float64) {
		for i := range held {
			out[i] = 1 - model.legs(&held[i], theta)/held[i].legs
		}
	}
	s, ok := f.solve()
	if !ok {
		return m, refuse("the battery's power does not follow speed and torque")
	}
	if s.spread > loosest {
		return m, refuse("assistance does not follow the rider's torque (it scatters by %.0f %%)", 100*s.spread)
	}
	m.Seconds = len(held)
	m.Coulomb = around(s.theta[coulomb], z90*s.sigma(coulomb))
	m.Viscous = around(s.theta[viscous], z90*s.sigma(viscous))

	// The meters' own errors move power, and with it the constant.
	meters := math.Hypot(tolerance(p, "sensors.battery_volts_factor"), tolerance(p, "sensors.battery_amps_factor"))
	share := math.Exp(s.theta[logCopper]) // R25/k²
	ohmDoubt := tolerance(p, "controller.ohm") * model.ohmShare / share
	after := math.Sqrt(math.Pow(z90*s.sigma(logCopper), 2) + meters*meters + ohmDoubt*ohmDoubt)
	if after > leastNews*before {
		return m, refuse("the motor constant would be known to ± %.0f %%, and the profile has it to ± %.0f %%: ride at more cadences and levels of assistance, or keep the data sheet's numbers", 50*after, 50*before)
	}
	m.MotorConstant = around(1/math.Sqrt(share), after/2/math.Sqrt(share))
	m.TorqueConstant = around(unit.K, kDoubt*unit.K)
	if k, doubt, told := model.constantFromVoltage(pushes, s.theta, unit.K); told {
		m.TorqueConstant, m.ConstantTold = around(k, doubt*k), true
		kDoubt = doubt
	}
	k := m.TorqueConstant.Value
	m.Resistance = around(share*k*k, share*k*k*math.Hypot(after, 2*kDoubt))
	return m, nil
}

// motorModel is the equation of Motor. ohmShare is the controller's ohm/k².
type motorModel struct{ ohmShare float64 }

// torque is the electric torque t in N m for which the battery's power pays.
func (m motorModel) torque(x *push, theta []float64) float64 {
	a := math.Exp(theta[logCopper])*x.warmth + m.ohmShare
	b := x.speed + theta[voltShare]
	c := x.terminal - theta[fixed]
	return 2 * c / (b + math.Sqrt(max(0, b*b+4*a*c)))
}

// legs is the rider's torque in N m that explains the battery's power.
func (m motorModel) legs(x *push, theta []float64) float64 {
	return (m.torque(x, theta) - theta[coulomb] - theta[viscous]*x.speed) / theta[shared+x.level]
}

// belowCeilings leaves out the seconds near a level's most torque and most
// power, and those near the end of the battery's voltage, where the motor no
// longer follows the rider. The choice looks at the
// motor's side alone, which is exact, so it does not favour errors of one sign.
func (m motorModel) belowCeilings(pushes []push, levels int, theta []float64, about float64) []push {
	const near = 0.92
	mostTorque, mostPower := make([]float64, levels), make([]float64, levels)
	for level := range levels {
		var torque, power []float64
		for i := range pushes {
			if x := &pushes[i]; x.level == level {
				t := m.torque(x, theta)
				torque, power = append(torque, t), append(power, t*x.speed)
			}
		}
		slices.Sort(torque)
		slices.Sort(power)
		mostTorque[level], mostPower[level] = near*torque[len(torque)*99/100], near*power[len(power)*99/100]
	}
	var held []push
	for i := range pushes {
		x := &pushes[i]
		t := m.torque(x, theta)
		volts := about * (x.speed + math.Exp(theta[logCopper])*x.warmth*t)
		if t < mostTorque[x.level] && t*x.speed < mostPower[x.level] && volts < near*x.volts {
			held = append(held, *x)
		}
	}
	return held
}

// hold is a profile's tolerance as a standard deviation of a value.
func hold(p *bike.Profile, key string, value float64) float64 {
	return max(tolerance(p, key)*value/z90, 1e-9)
}

// firstFactor is the motor's torque for each unit of the rider's if nothing
// were lost: a start for the fit.
func firstFactor(pushes []push, level int) float64 {
	var shares []float64
	for _, x := range pushes {
		if x.level == level {
			shares = append(shares, 0.85*x.terminal/(x.speed*x.legs))
		}
	}
	return median(shares)
}

// constantFromVoltage finds the torque constant where the voltage runs out:
// fast seconds in which the motor falls short of the rider's torque. There
//
//	k w + I R = V with I = t/k, hence k = V/(w + (R/k²) t).
func (m motorModel) constantFromVoltage(pushes []push, theta []float64, about float64) (k, doubt float64, told bool) {
	const (
		least  = 20   // s
		short  = 0.93 // of the torque in proportion
		spread = 0.03 // of k, beyond which the seconds do not agree
	)
	var found []float64
	for i := range pushes {
		x := &pushes[i]
		if m.legs(x, theta) > short*x.legs || x.speed < 0.8*x.volts/about {
			continue
		}
		found = append(found, x.volts/(x.speed+math.Exp(theta[logCopper])*x.warmth*m.torque(x, theta)))
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
