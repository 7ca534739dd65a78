package drive_test

import (
	"math"
	"math/rand/v2"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/road"
	"cogledger/ingest/ride"
)

// made is a ride over a wavy road with stops, ridden in gears of the rider's
// whim, and the drive's true state in each second.
type made struct {
	ride  *ride.Ride
	gears *gears.Inference
	road  *road.Series
	truth []drive.Point
	wheel []float64 // W the motor gave at the wheel
}

// log tells what of it a device wrote down.
type log struct {
	battery, motorPower, motorRPM bool
}

// makeRide rides p for some seconds. The drive's state is worked out forwards,
// from wheel to battery, with the winding's temperature as given.
func makeRide(random *rand.Rand, p *bike.Profile, seconds int, write log) made {
	u := drive.NewUnit(p)
	all := p.Gears()
	nan := func() []float64 {
		x := make([]float64, seconds)
		for i := range x {
			x[i] = math.NaN()
		}
		return x
	}
	speed, cadence, legs, altitude := make([]float64, seconds), make([]float64, seconds), make([]float64, seconds), make([]float64, seconds)
	volts, amps, motor, rpm := nan(), nan(), nan(), nan()
	m := made{
		ride: ride.New(seconds), truth: make([]drive.Point, seconds), wheel: make([]float64, seconds),
		gears: &gears.Inference{
			Index: make([]int, seconds), Best: make([]int, seconds), Coupled: make([]float64, seconds),
			Probability: make([]float64, seconds), Circumference: p.Circumference(),
		},
	}
	height, steep := 100.0, 0.02+0.05*random.Float64()
	phase, pull := random.Float64()*6, 60+120*random.Float64()
	gear := len(all) / 2
	v := 0.0
	for i := range speed {
		grade := steep * math.Sin(phase+float64(i)/45)
		target := 6 - 40*grade
		if i%200 > 185 {
			target = 0
		}
		v = max(0, v+max(-2, min(0.8, (target-v)/3)))
		speed[i] = v
		height += v * grade
		altitude[i] = height
		if random.IntN(12) == 0 {
			gear = random.IntN(len(all))
		}
		m.gears.Index[i], m.gears.Best[i], m.gears.Coupled[i], m.gears.Probability[i] = gear, gear, 1, 1
		if target > 0 && v > 0 && u.CadenceRPM(v, all[gear]) < 130 {
			cadence[i] = u.CadenceRPM(v, all[gear])
			legs[i] = pull
		}
	}
	m.ride.SetColumn(ride.Speed, speed, nil, ride.WheelSensor)
	m.ride.SetColumn(ride.CadenceRPM, cadence, nil, ride.Device)
	m.ride.SetColumn(ride.RiderPower, legs, nil, ride.Device)
	m.ride.SetColumn(ride.Altitude, altitude, nil, ride.Device)
	m.road = road.Load(m.ride, p, road.Options{WindSigma: 1e-9}) // made in still air

	const openCircuit = 50
	nodes := drive.NewNodes(p.Thermal, 1)
	winding, housing := p.Thermal.AmbientC, p.Thermal.AmbientC
	for i := range speed {
		g := all[m.gears.Index[i]]
		pt := u.Off(u.Fixed, openCircuit)
		if cadence[i] > 0 && speed[i] < u.Cutoff {
			w := u.MotorSpeed(speed[i], g)
			need := m.road.Demand[i]
			pt = u.AtWheel(g, speed[i], need, legs[i], winding, openCircuit)
			if most := u.Most(w, winding, openCircuit); pt.Shaft > most.Shaft {
				pt = most
			}
			if pt.Shaft < 20 {
				pt = u.Off(u.Fixed, openCircuit)
			}
		}
		if pt.Shaft == 0 && !u.Clutch { // a direct hub turns with the wheel
			pt = u.AtAmps(u.MotorSpeed(speed[i], g), 0, winding, openCircuit)
		}
		winding, housing = nodes.Step(winding, housing, pt.Copper, pt.Drag+p.Thermal.ControllerShare*pt.Controller, p.Thermal.AmbientC)
		m.truth[i] = pt
		volts[i], amps[i] = pt.BatteryVolts, pt.BatteryAmps
		motor[i] = pt.Shaft * u.Reduction
		rpm[i] = pt.Speed * 60 / (2 * math.Pi)
	}
	if write.battery {
		m.ride.SetColumn(ride.BatteryVolts, volts, nil, ride.Device)
		m.ride.SetColumn(ride.BatteryAmps, amps, nil, ride.Device)
	}
	if write.motorPower {
		m.ride.SetColumn(ride.MotorPower, motor, nil, ride.Device)
	}
	if write.motorRPM {
		m.ride.SetColumn(ride.MotorRPM, rpm, nil, ride.Device)
	}
	return m
}

func (m made) run(p *bike.Profile, o drive.Options) *drive.Series {
	return drive.Run(m.ride, p, m.gears, m.road, o)
}

// hubBike is the example with its motor in the wheel.
func hubBike(turns float64) *bike.Profile {
	p := bike.Example()
	p.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: turns}
	if turns == 1 {
		p.Motor.TorqueConstant, p.Motor.ResistanceOhm = 1.2, 0.25
		p.Motor.CoulombTorque, p.Motor.Viscous = 0.4, 0.01
	} else {
		p.Motor.TorqueConstant = 0.12
	}
	return p
}
