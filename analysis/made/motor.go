package made

import (
	"math"

	"cogledger/analysis/bike"
)

// A motor is the simulator's own machine and controller: a direct-current
// equivalent whose winding grows more resistive with heat, whose magnets grow
// weaker and whose grease grows thinner.
type motor struct {
	k, r, coulomb, viscous float64 // at 25 °C
	inertia                float64
	phaseLimit             float64
	fixed, volt, ohm       float64 // controller loss: fixed + volt I + ohm I²
	batteryLimit           float64
	reduction              float64 // efficiency
	turns                  float64 // motor turns for one turn of what it pushes
	clutch                 bool    // runs free when the motor rests
}

func newMotor(p *bike.Profile) motor {
	m := motor{
		k: p.Motor.TorqueConstant, r: p.Motor.ResistanceOhm,
		coulomb: p.Motor.CoulombTorque, viscous: p.Motor.Viscous, inertia: p.Motor.Inertia,
		phaseLimit: p.Motor.PhaseCurrentLimit,
		fixed:      p.Controller.FixedW, volt: p.Controller.Volt, ohm: p.Controller.Ohm,
		batteryLimit: p.Controller.BatteryCurrentLimit,
		reduction:    p.ReductionEfficiency,
		turns:        p.Drive.TurnsPerCrank,
		clutch:       true,
	}
	if p.Drive.Kind == bike.Hub {
		m.turns = p.Drive.TurnsPerWheel
		m.clutch = m.turns > 1.001
	}
	return m
}

// A machine is the motor at its present temperatures.
type machine struct {
	*motor
	k, r, coulomb, viscous float64
}

// Temperature coefficients. Copper's is that of IEC 60028 and counts from
// copperC; a profile states its resistance at ratedC, from where it is 2 % less.
// The magnets' loss of flux and the thinning of the grease are common practice:
// rare-earth magnets lose 0.03 to 0.12 % a kelvin, greases thin out by more than
// is let act here.
const (
	copperPerK = 0.00393
	copperC    = 20
	magnetPerK = -0.0004
	greasePerK = -0.0015
	ratedC     = 25
)

// warmth is the resistance of a winding over the one it has at ratedC.
func warmth(windingC float64) float64 {
	return (1 + copperPerK*(windingC-copperC)) / (1 + copperPerK*(ratedC-copperC))
}

func (m *motor) at(windingC, housingC float64) machine {
	grease := max(0.7, 1+greasePerK*(housingC-ratedC))
	return machine{
		motor: m,
		k:     m.k * (1 + magnetPerK*(housingC-ratedC)),
		r:     m.r * warmth(windingC), coulomb: m.coulomb * grease, viscous: m.viscous * grease,
	}
}

// drag is the torque that iron, bearings and windage take at speed w.
func (m *machine) drag(w float64) float64 { return m.coulomb + m.viscous*w }

// amps is the motor current that turns the shaft with the torque at speed w.
func (m *machine) amps(torque, w float64) float64 { return (torque + m.drag(w)) / m.k }

// terminal is the power drawn from the battery at a motor current and speed.
func (m *machine) terminal(amps, w float64) float64 {
	return m.k*w*amps + m.r*amps*amps + m.controller(amps)
}

func (m *machine) controller(amps float64) float64 {
	return m.fixed + m.volt*math.Abs(amps) + m.ohm*amps*amps
}

// most is the greatest motor current at speed w that the limits let through:
// the phase current, the voltage left over after the back voltage, and the
// battery current.
func (m *machine) most(w, terminalVolts, mostPower float64) float64 {
	amps := min(m.phaseLimit, (terminalVolts-m.k*w)/m.r)
	if amps <= 0 {
		return 0
	}
	if m.terminal(amps, w) <= mostPower {
		return amps
	}
	a, b, c := m.r+m.ohm, m.k*w+m.volt, m.fixed-mostPower
	if c >= 0 {
		return 0
	}
	return (-b + math.Sqrt(b*b-4*a*c)) / (2 * a)
}

// losses at shaft power p and speed w, controller's standing share included.
func (m *machine) losses(p, w float64) float64 {
	i := m.amps(p/w, w)
	return m.drag(w)*w + m.r*i*i + m.controller(i)
}

// bestSpeed searches the speed of least loss at shaft power p among those that
// the voltage can reach. Loss falls, then rises: a golden section finds it.
func (m *machine) bestSpeed(p, terminalVolts float64) float64 {
	low, high := 10.0, terminalVolts/m.k
	for m.k*high+m.r*m.amps(p/high, high) > terminalVolts && high > 2*low {
		high *= 0.98
	}
	const golden = 0.6180339887498949
	a, b := high-golden*(high-low), low+golden*(high-low)
	fa, fb := m.losses(p, a), m.losses(p, b)
	for high-low > 1 {
		if fa < fb {
			high, b, fb = b, a, fa
			a = high - golden*(high-low)
			fa = m.losses(p, a)
		} else {
			low, a, fa = a, b, fb
			b = low + golden*(high-low)
			fb = m.losses(p, b)
		}
	}
	return (low + high) / 2
}

// lugs reports whether the motor, giving shaft power p at speed w, runs slower
// than its efficient band: more than 3 points below the best efficiency that
// it could reach at that power.
func (m *machine) lugs(p, w, terminalVolts float64) bool {
	if p < restingW || w <= 0 {
		return false
	}
	best := m.bestSpeed(p, terminalVolts)
	if w >= best {
		return false
	}
	return p/(p+m.losses(p, w)) < p/(p+m.losses(p, best))-bandPoints
}

const (
	restingW   = 15   // shaft power under which a motor counts as resting
	bandPoints = 0.03 // of efficiency, the depth of the efficient band
)

// A furnace is the motor's heat: winding and housing, the housing cooled by
// the wind of riding.
type furnace struct {
	winding, housing   float64 // °C
	windingJ, housingJ float64 // J/K
	inner, outer       float64 // K/W
}

func newFurnace(p *bike.Profile, startC float64) furnace {
	t := p.Thermal
	return furnace{
		winding: startC, housing: startC,
		windingJ: t.WindingJPerK, housingJ: t.HousingJPerK,
		inner: t.WindingToHousing, outer: t.HousingToAir,
	}
}

// nominalWind is the riding speed in m/s at which the profile's resistance to
// the air holds; a standing bike cools about a third worse.
const nominalWind = 5.5

func (f *furnace) heat(copper, core, airC, wind, dt float64) {
	outer := f.outer * (1 + 0.06*nominalWind) / (1 + 0.06*wind)
	through := (f.winding - f.housing) / f.inner
	f.winding += dt * (copper - through) / f.windingJ
	f.housing += dt * (through + core - (f.housing-airC)/outer) / f.housingJ
}
