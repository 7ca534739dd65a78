package shifts

import (
	"math"
	"math/rand/v2"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/road"
	"cogledger/ingest/ride"
)

// A madeRide is a ride of known gears on the example bike, with volts and
// amperes that the bike's own drive would draw. It is a light stand-in for a
// real log: hills, stops and noise, nothing of a battery that sags or a sensor
// that lags.
type madeRide struct {
	r   *ride.Ride
	p   *bike.Profile
	inf *gears.Inference
	rd  *road.Series
	d   *drive.Series
	m   *drive.Matrix
}

// A plannedRoad is what the rider meets: the grade, and where to stand.
type plannedRoad struct {
	grade []float64
	stand []bool
}

func hills(rng *rand.Rand, seconds int, withStops bool) plannedRoad {
	x := plannedRoad{make([]float64, seconds), make([]bool, seconds)}
	for s := 0; s < seconds; {
		length, grade := 40+rng.IntN(80), 0.0
		switch rng.IntN(4) {
		case 0:
			grade = 0.03 + 0.06*rng.Float64()
		case 1:
			grade = -0.02 - 0.03*rng.Float64()
		}
		for u := s; u < min(seconds, s+length); u++ {
			x.grade[u] = grade
		}
		s += length
		if withStops && rng.IntN(3) == 0 {
			stand := 5 + rng.IntN(15)
			for u := s; u < min(seconds, s+stand); u++ {
				x.stand[u] = true
			}
			s += stand
		}
	}
	return x
}

// A habitOf decides the gear in second s, given the one in use and the gear
// that would turn the legs at the rider's favourite cadence.
type habitOf func(s, gear, ideal int) int

// shiftsWell follows the ideal gear, one shift every four seconds at most.
func shiftsWell() habitOf {
	last := -10
	return func(s, gear, ideal int) int {
		if ideal == gear || s-last < 4 {
			return gear
		}
		last = s
		return ideal
	}
}

func makeRide(t testing.TB, rng *rand.Rand, way plannedRoad, cadence, noise float64, habit habitOf) madeRide {
	t.Helper()
	return makeRideOn(bike.Example(), rng, way, cadence, noise, habit)
}

func makeRideOn(p *bike.Profile, rng *rand.Rand, way plannedRoad, cadence, noise float64, habit habitOf) madeRide {
	x := madeRide{p: p}
	n := len(way.grade)
	all, unit := x.p.Gears(), drive.NewUnit(x.p)
	x.inf = &gears.Inference{
		Index: make([]int, n), Best: make([]int, n), Probability: make([]float64, n), Coupled: make([]float64, n),
		Circumference: x.p.Circumference(),
	}
	speed, rpm, volts, amps, legs, altitude := column(n), column(n), column(n), column(n), column(n), column(n)
	equation := road.Equation{Mass: x.p.Mass.Total(), CdA: x.p.Road.CdA, Crr: x.p.Road.Crr, Density: 1.2, Gravity: 9.81}
	v, h, gear := 0.0, 100.0, 4
	for s := range n {
		aim := 6.3 - 45*math.Max(0, way.grade[s])
		if way.grade[s] < 0 {
			aim = 8.5
		}
		before := v
		if way.stand[s] {
			v = math.Max(0, v-2.5)
		} else {
			v += math.Max(-0.5, math.Min(0.8, (aim-v)/3))
		}
		h += v * way.grade[s]
		gear = habit(s, gear, idealGear(all, x.p, v, cadence))
		power := equation.Steady(v, v, way.grade[s]).Sum() + equation.Inertia(before, v, 1)
		pushing := power > 5 && v > 0.3
		speed[s], altitude[s] = v, h
		x.inf.Index[s], x.inf.Best[s], x.inf.Probability[s], x.inf.Coupled[s] = gear, gear, 1, 1
		pt := unit.Off(unit.Fixed, x.p.Battery.NominalV)
		if pushing {
			rpm[s] = unit.CadenceRPM(v, all[gear])
			legs[s] = math.Min(100, power/2)
			factor := 1 + noise*rng.NormFloat64()
			pt = unit.AtWheel(all[gear], v, math.Max(0, power*factor), legs[s], 50, x.p.Battery.NominalV)
			if pt.Limit != drive.NoLimit {
				pt = unit.Most(pt.Speed, 50, x.p.Battery.NominalV)
			}
		} else if v < 0.3 || s%7 == 0 {
			x.inf.Index[s] = gears.Unknown
		}
		volts[s], amps[s] = pt.BatteryVolts, pt.BatteryAmps
	}
	x.r = ride.New(n)
	x.r.SetColumn(ride.Speed, speed, nil, ride.WheelSensor)
	x.r.SetColumn(ride.CadenceRPM, rpm, nil, ride.Device)
	x.r.SetColumn(ride.BatteryVolts, volts, nil, ride.Device)
	x.r.SetColumn(ride.BatteryAmps, amps, nil, ride.Device)
	x.r.SetColumn(ride.RiderPower, legs, nil, ride.Device)
	x.r.SetColumn(ride.Altitude, altitude, nil, ride.Device)
	x.r.SetColumn(ride.Distance, summed(speed), nil, ride.FromSpeed)
	x.rd = road.Load(x.r, x.p, road.Options{})
	x.d = drive.Run(x.r, x.p, x.inf, x.rd, drive.Options{})
	x.m = drive.Alternatives(x.r, x.p, x.inf, x.rd, x.d)
	return x
}

func column(n int) []float64 { return make([]float64, n) }

func summed(speed []float64) []float64 {
	sum, total := make([]float64, len(speed)), 0.0
	for s, v := range speed {
		total += v
		sum[s] = total
	}
	return sum
}

// idealGear turns the legs closest to the cadence.
func idealGear(all []bike.Gear, p *bike.Profile, v, cadence float64) int {
	best, off := 0, math.Inf(1)
	for g, gear := range all {
		if o := math.Abs(60*v/(p.Circumference()*gear.Ratio) - cadence); o < off {
			best, off = g, o
		}
	}
	return best
}

func (x madeRide) plan() Plan { return Make(x.r, x.p, x.inf, x.rd, x.d, x.m) }

func (x madeRide) moments(plan Plan) []Moment {
	return Moments(x.r, x.p, x.inf, x.rd, x.d, x.m, plan)
}

func (x madeRide) habits(plan Plan) []Habit {
	return Habits(x.r, x.p, x.inf, x.rd, x.d, x.m, plan, x.moments(plan))
}
