package replay

import (
	"errors"
	"fmt"
	"math"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/road"
	"cogledger/analysis/shifts"
)

// LaunchOptions describe a start from a stand. The zero value is an everyday
// start in the saddle.
//
// The legs push with a torque that falls in a straight line from LegsNm at a
// standing crank to nothing at LegsTopRPM, and with no more than LegsW. That the
// torque of cycling falls linearly with cadence is well measured for sprints
// (review: Driss & Vandewalle 2013, BioMed Research International, article
// 589361; MEMORY: not seen while this was written). The sizes are common
// practice for a start without haste.
type LaunchOptions struct {
	Grade      float64 // rise over run
	LegsNm     float64 // at the crank, averaged over its turn; 0 means 45
	LegsTopRPM float64 // 0 means 180
	LegsW      float64 // 0 means 200
	WindingC   float64 // 0 means 40
	LongestS   float64 // the start is given up after so long; 0 means 60
}

func (o LaunchOptions) filled() LaunchOptions {
	orElse := func(v *float64, def float64) {
		if *v == 0 {
			*v = def
		}
	}
	orElse(&o.LegsNm, 45)
	orElse(&o.LegsTopRPM, 180)
	orElse(&o.LegsW, 200)
	orElse(&o.WindingC, 40)
	orElse(&o.LongestS, 60)
	return o
}

// A LaunchRun is a start from a stand in one gear, assist at full.
type LaunchRun struct {
	Gear     bike.Gear
	Accel    float64     // m/s² in the first half second, 0 where the bike does not move
	PullN    float64     // at the wheel's rim when it starts to turn
	To15     float64     // s from a stand to 15 km/h, NaN where it is not reached
	Metres   float64     // to 15 km/h
	Joules   float64     // out of the battery on the way
	CopperJ  float64     // into the winding on the way
	Limit    drive.Limit // what held the motor longest on the way
	TopSpeed float64     // m/s, the fastest it came to
}

// launchStep in s is fine enough for times to a hundredth of a second.
const launchStep = 0.01

// Launch starts from a stand in gear g, motor and legs pushing as hard as they
// may, within the drive's limits. It errs where the gear has no ratio.
//
// The equation of motion is m dv/dt = pull - road, integrated by the midpoint
// rule; the rotor's inertia adds to the mass as the square of its turns.
func Launch(p *bike.Profile, g bike.Gear, o LaunchOptions) (LaunchRun, error) {
	if !(g.Ratio > 0) {
		return LaunchRun{}, fmt.Errorf("replay: gear %s has no ratio", g)
	}
	if !(p.Circumference() > 0) {
		return LaunchRun{}, errors.New("replay: the wheel has no circumference")
	}
	l := newLauncher(p, g, o.filled())
	run := LaunchRun{Gear: g, To15: math.NaN(), PullN: l.push(0).pull}
	var held [4]int // steps by limit
	v := 0.0
	for t := 0.0; t < l.o.LongestS; t += launchStep {
		mid := v + l.accel(v)*launchStep/2
		next := v + l.accel(max(0, mid))*launchStep
		if next <= 0 {
			break
		}
		now := l.push((v + next) / 2)
		held[now.limit]++
		if math.IsNaN(run.To15) {
			part := 1.0
			if next >= shifts.StartedMPS {
				part = (shifts.StartedMPS - v) / (next - v)
				run.To15 = t + part*launchStep
			}
			run.Metres += (v + next) / 2 * part * launchStep
			run.Joules += now.terminal * part * launchStep
			run.CopperJ += now.copper * part * launchStep
		}
		if t+launchStep <= 0.5+1e-9 {
			run.Accel = next / (t + launchStep)
		}
		v = next
		run.TopSpeed = max(run.TopSpeed, v)
		if !math.IsNaN(run.To15) || next-v > 0 && l.accel(v) < 1e-4 {
			break
		}
	}
	for k, n := range held {
		if n > held[run.Limit] {
			run.Limit = drive.Limit(k)
		}
	}
	if math.IsNaN(run.To15) {
		run.Metres = math.NaN()
	}
	return run, nil
}

type launcher struct {
	p        *bike.Profile
	g        bike.Gear
	o        LaunchOptions
	unit     drive.Unit
	road     road.Equation
	mass     float64 // kg, with everything that turns
	perMotor float64 // rim force in N for each Nm at the motor's shaft, before losses
}

func newLauncher(p *bike.Profile, g bike.Gear, o LaunchOptions) *launcher {
	l := &launcher{p: p, g: g, o: o, unit: drive.NewUnit(p)}
	_, _, density := road.StandardAir(0)
	l.road = road.Equation{
		Mass: p.Mass.Total(), CdA: p.Road.CdA, Crr: p.Road.Crr,
		Density: density, Gravity: road.Gravity(45, 0),
	}
	l.perMotor = l.unit.MotorSpeed(1, g) // rad/s each m/s is Nm to N
	l.mass = l.road.Mass + p.Motor.Inertia*l.perMotor*l.perMotor
	return l
}

// A push is what drives the bike at one speed.
type push struct {
	pull             float64 // N at the rim
	terminal, copper float64 // W
	limit            drive.Limit
}

// push at v m/s. The motor helps up to the cut-off speed.
func (l *launcher) push(v float64) push {
	crank := 2 * math.Pi * v / (l.p.Circumference() * l.g.Ratio) // rad/s
	legs := max(0, l.o.LegsNm*(1-crank*30/math.Pi/l.o.LegsTopRPM))
	if crank > 0 {
		legs = min(legs, l.o.LegsW/crank)
	}
	var x push
	motor := 0.0
	if v < l.unit.Cutoff {
		pt := l.unit.Most(l.perMotor*v, l.o.WindingC, l.unit.OpenCircuitV)
		motor = max(0, l.unit.Torque(pt.Speed, pt.Amps)) * l.unit.Reduction
		x.terminal, x.copper, x.limit = pt.Terminal, pt.Copper, pt.Limit
	}
	legsForce := legs / l.p.Circumference() * 2 * math.Pi / l.g.Ratio
	motorForce := motor * l.perMotor
	through := legsForce
	if !l.unit.Hub() {
		through += motorForce
	}
	loss := 1 - drive.ChainEfficiency(l.g, through*l.p.Circumference()*l.g.Ratio/(float64(l.g.Front)*drive.ChainPitch), l.unit.ChainLoss)
	x.pull = legsForce + motorForce - loss*through
	return x
}

func (l *launcher) accel(v float64) float64 {
	return (l.push(v).pull - l.resistance(v)) / l.mass
}

// resistance in N: the road's power over the speed, which has a limit at rest.
func (l *launcher) resistance(v float64) float64 {
	v = max(v, 1e-6)
	return l.road.Steady(v, v, l.o.Grade).Sum() / v
}
