package learn

import (
	"fmt"
	"math"
	"slices"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/ingest/ride"
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
	Idle           doubt.Figure // W that the drive draws while the crank stands; zero where no second tells
	Seconds        int          // that told
}

const (
	leastMotorSeconds = 300
	leastSpeedRange   = 1.4  // ninth tenth of motor speed over first tenth
	leastNews         = 0.75 // interval after the logs over the one before, above which they told nothing
	loosest           = 0.12 // scatter about proportional assistance, as a share of torque
	swingDoubt        = 0.02 // of copper loss: how much of the legs' swing reaches the motor is not known
)

// Motor learns a mid drive's motor from rides with volts, amperes, the rider's
// power and the motor's speed.
//
// Such drives sense the rider's torque T and add their own in proportion, with
// one unknown factor a for each level of assistance. The same torque at many
// speeds then splits the battery's power into work, which grows with speed,
// copper loss, which does not, and drag:
//
//	P = fixed + t w + (volt/k) t + ((R(T) + ohm)/k²) s t²,  t = a T + Coulomb + Viscous w
//
// with s a little above one for the swing of the torque within a turn.
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

func fitMotor(rides []Read, p *bike.Profile) (m MotorFit, err error) {
	if p.Drive.Kind != bike.Mid {
		return m, refuse("a hub motor does not turn with the crank that the rider's torque is known at")
	}
	unit := drive.NewUnit(p)
	pushes := gather(rides, p, unit)
	if n := seconds(pushes.steady); n < leastMotorSeconds {
		return m, refuse("%d s with volts, amperes and steady rider power are too few, %d are needed", n, leastMotorSeconds)
	}
	var speeds []float64
	for _, x := range pushes.steady {
		for _, s := range x.seconds {
			speeds = append(speeds, s.speed)
		}
	}
	slices.Sort(speeds)
	if span := speeds[len(speeds)*9/10] / speeds[len(speeds)/10]; span < leastSpeedRange {
		return m, refuse("motor speeds are all alike (a factor of %.2f)", span)
	}

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
	if w, half, told := idle(rides); told {
		m.Idle = around(w, half)
		f.mean[fixed], f.sigma[fixed] = w, half/z90
	}
	for level := range pushes.levels {
		f.mean, f.sigma, f.step = append(f.mean, firstFactor(pushes.steady, level)), append(f.sigma, math.Inf(1)), append(f.step, 1e-6)
	}
	for range rides { // a torque sensor's zero and gain wander from day to day
		f.mean, f.sigma, f.step = append(f.mean, 1), append(f.sigma, hold(p, "sensors.rider_power_factor", 1)), append(f.step, 1e-4)
	}
	model := motorModel{ohmShare: unit.Ohm / (unit.K * unit.K), levels: len(pushes.levels)}
	s, held, err := model.solve(f, pushes, unit.K)
	if err != nil {
		return m, err
	}
	m.Seconds = seconds(held)
	m.Coulomb = around(s.theta[coulomb], z90*s.sigma(coulomb))
	m.Viscous = around(s.theta[viscous], z90*s.sigma(viscous))

	// The meters' own errors move power, and with it the constant.
	meters := math.Hypot(tolerance(p, "sensors.battery_volts_factor"), tolerance(p, "sensors.battery_amps_factor"))
	share := math.Exp(s.theta[logCopper]) // R25/k²
	ohmDoubt := tolerance(p, "controller.ohm") * model.ohmShare / share
	after := math.Sqrt(math.Pow(z90*s.sigma(logCopper), 2) + meters*meters + ohmDoubt*ohmDoubt + swingDoubt*swingDoubt)
	if after > leastNews*before {
		return m, refuse("the motor constant would be known to ± %.0f %%, and the profile has it to ± %.0f %%: ride at more cadences and levels of assistance, or keep the data sheet's numbers", 50*after, 50*before)
	}
	m.MotorConstant = around(1/math.Sqrt(share), after/2/math.Sqrt(share))
	m.TorqueConstant = around(unit.K, kDoubt*unit.K)
	if k, doubt, told := model.constantFromVoltage(pushes.steady, s.theta, unit.K); told {
		m.TorqueConstant, m.ConstantTold = around(k, doubt*k), true
		kDoubt = doubt
	}
	k := m.TorqueConstant.Value
	m.Resistance = around(share*k*k, share*k*k*math.Hypot(after, 2*kDoubt))
	return m, nil
}

// idle is what the drive draws while the crank stands, in W, with the half width
// of its 90 % range: the scatter, the meter's step, which a steady draw does not
// even out, and that a drive at work may draw a little more.
func idle(rides []Read) (watts, doubtW float64, told bool) {
	const (
		least = 30 // s
		still = 4  // s of a standing crank, for the motor to come to rest
		more  = 0.1
	)
	var found []float64
	step, volts := 0.0, 0.0
	for _, rd := range rides {
		cadence, amps := rd.Ride.Column(ride.CadenceRPM), rd.Ride.Column(ride.BatteryAmps)
		if cadence == nil || amps == nil || rd.Drive.VoltsModelled {
			continue
		}
		step = max(step, doubt.Rounding(doubt.Resolution(amps)))
		stood := 0
		for i, rpm := range cadence {
			if stood++; rpm != 0 {
				stood = 0
			}
			if w := rd.Drive.Terminal[i]; stood >= still && !math.IsNaN(w) {
				found = append(found, w)
				volts = rd.Drive.Volts[i]
			}
		}
	}
	if len(found) < least {
		return 0, 0, false
	}
	watts = median(found)
	away := make([]float64, len(found))
	for i, w := range found {
		away[i] = w - watts
	}
	scatter := robustSpread(away) / math.Sqrt(float64(len(found))/5)
	return watts, math.Hypot(z90*math.Hypot(scatter, step*volts), more*watts), watts > 0
}

// firstFactor is the motor's torque for each unit of the rider's if nothing
// were lost: a start for the fit.
func firstFactor(pushes []push, level int) float64 {
	var shares []float64
	for _, x := range pushes {
		if x.level == level {
			at := x.seconds[len(x.seconds)/2]
			shares = append(shares, 0.85*at.terminal/(at.speed*x.legs))
		}
	}
	return median(shares)
}

// hold is a profile's tolerance as a standard deviation of a value.
func hold(p *bike.Profile, key string, value float64) float64 {
	return max(tolerance(p, key)*value/z90, 1e-9)
}
