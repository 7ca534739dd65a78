package gears_test

import (
	"math"
	"math/rand/v2"

	"cogledger/analysis/bike"
	"cogledger/ingest/ride"
)

// sensors is how a made ride is measured and ridden. The generator knows
// nothing of the inference's model: it moves a bike ten times a second and
// logs what devices would.
type sensors struct {
	spread  float64 // relative noise of speed
	keep    float64 // its correlation from one second to the next
	jitter  float64 // m/s, white
	lag     float64 // s by which speed is logged late
	smooth  float64 // s, time constant of the device's filter on speed
	turns   float64 // crank turns that cadence is averaged over
	hold    float64 // s for which the last cadence is repeated when cranks stop
	power   bool    // rider's power is logged
	soft    float64 // share of pedalling done softly
	shiftsS float64 // mean seconds between shifts
	gaps    float64 // share of seconds whose cadence is lost, in stretches of some seconds
}

// tenths a second of the simulation.
const tenths = 10

// madeRide rides the bike, on a tyre that rolls not quite as its profile says,
// and returns the log and the true gear of every second.
func madeRide(p *bike.Profile, s sensors, seconds int, seed uint64) (*ride.Ride, []int) {
	rng := rand.New(rand.NewPCG(seed, 6))
	rolled := *p
	rolled.Wheel.RolloutMM *= 1 + 0.008*rng.NormFloat64()
	return madeRideOn(&rolled, s, seconds, seed)
}

// madeRideOn rides the bike just as its profile is.
func madeRideOn(p *bike.Profile, s sensors, seconds int, seed uint64) (*ride.Ride, []int) {
	rng := rand.New(rand.NewPCG(seed, 7))
	list := p.Gears()
	rings := max(len(p.Drivetrain.Chainrings), 1)
	rungs := len(list) / rings
	c := p.Circumference()
	gear := rings/2*rungs + rungs/2

	n := seconds * tenths
	v := make([]float64, n)     // m/s
	crank := make([]float64, n) // rpm
	watts := make([]float64, n)
	truth := make([]int, seconds)

	speed, grade, wind := 0.0, 0.0, 1.0
	wanted := 82 + 6*rng.NormFloat64()
	mode, left := riding, 60.0
	softness, shifting, wait, restless := 1.0, 0.0, 0.0, 0.0
	pending := 0 // shifts of a burst still to come
	const dt = 1.0 / tenths
	for i := range n {
		grade += dt*(-grade/120) + 0.012*math.Sqrt(2*dt/120)*rng.NormFloat64()*1.5
		wind += dt*(1-wind)/60 + 0.2*math.Sqrt(2*dt/60)*rng.NormFloat64()
		if left -= dt; left <= 0 {
			mode, left, softness = nextMode(mode, s, rng)
		}
		ratio := list[gear].Ratio
		turn := 60 * speed / (c * ratio)
		push := 0.0
		switch mode {
		case riding:
			push = min(170*wind*(1+2.2*math.Tanh(12*grade)), 420) // W
			if push < 40 || speed > 12.5 {
				push = 0 // downhill: feet at rest
				break
			}
			if turn < 40 {
				push = min(push, 8*max(turn, 15))
			}
			crank[i], watts[i] = turn, push
		case softly:
			crank[i], watts[i] = turn*softness, 6*rng.Float64()
		case stopping:
			push = 0
		}
		brake := 0.0
		if mode == stopping {
			brake = 1.6
		}
		force := push*0.97/max(speed, 1.2) - 95*(9.81*grade+0.05) - 0.28*speed*speed
		speed = max(0, speed+dt*(force/95-brake))
		if mode == riding && speed < 1 && push > 0 {
			speed += dt * 0.8
		}
		if mode != stopping && speed > 13 {
			speed = 13 // the rider brakes on descents
		}
		v[i] = speed
		if shifting > 0 { // the chain climbs: neither gear
			shifting -= dt
		} else {
			gear, pending, wait, restless, shifting = decide(gear, rings, rungs, list, turn, wanted, grade, mode, pending, wait-dt, restless, s, rng)
		}
		if i%tenths == tenths/2 {
			truth[i/tenths] = gear
		}
	}
	return logged(v, crank, watts, s, rng), truth
}

type riderMode int

const (
	riding riderMode = iota
	softly
	rolling
	stopping
)

func nextMode(m riderMode, s sensors, rng *rand.Rand) (riderMode, float64, float64) {
	if m != riding {
		return riding, 5 + 90*rng.ExpFloat64(), 1
	}
	switch u := rng.Float64(); {
	case u < s.soft*4:
		return softly, 2 + 6*rng.ExpFloat64(), 0.55 + 0.43*rng.Float64()
	case u < s.soft*4+0.3:
		return rolling, 1 + 8*rng.ExpFloat64(), 0
	case u < s.soft*4+0.36:
		return stopping, 8 + 12*rng.Float64(), 0
	}
	return riding, 20 * rng.ExpFloat64(), 1
}

// decide shifts as riders do: when cadence has strayed for a while, in bursts,
// sometimes for no reason; the ring changes at the ends of the cassette.
func decide(gear, rings, rungs int, list []bike.Gear, turn, wanted, grade float64, mode riderMode, pending int, wait, restless float64, s sensors, rng *rand.Rand) (int, int, float64, float64, float64) {
	const dt = 1.0 / tenths
	if mode == rolling || wait > 0 {
		return gear, pending, wait, restless, 0
	}
	ring, rung := gear/rungs, gear%rungs
	step := 0
	switch {
	case pending > 0:
		step, pending = 1, pending-1
	case pending < 0:
		step, pending = -1, pending+1
	default:
		off := turn - wanted
		restless += dt * math.Abs(off) / 8
		if mode == stopping && turn < 55 && rung > 2 && rng.Float64() < 0.3*dt*tenths/10 {
			step = -1
		} else if restless*rng.ExpFloat64() > 0.9*s.shiftsS && math.Abs(off) > 7 {
			step = 1
			if off < 0 {
				step = -1
			}
			restless = 0
			if math.Abs(off) > 16 {
				pending = step * (1 + rng.IntN(2))
			}
		} else if rng.Float64() < dt/(6*s.shiftsS) {
			step = 1 - 2*rng.IntN(2)
		}
	}
	if step == 0 {
		return gear, pending, wait, restless, 0
	}
	switch {
	case rings > 1 && (rung+step >= rungs-1 && step > 0 || ring == 0 && rung > rungs*2/3 && rng.Float64() < 0.5 && step > 0) && ring < rings-1:
		ring, rung, pending = ring+1, max(0, rung-2-rng.IntN(2)), 0
	case rings > 1 && (rung+step <= 0 && step < 0 || ring == rings-1 && rung < rungs/3 && rng.Float64() < 0.5 && step < 0) && ring > 0:
		ring, rung, pending = ring-1, min(rungs-1, rung+2+rng.IntN(2)), 0
	default:
		rung = min(max(rung+step, 0), rungs-1)
	}
	return ring*rungs + rung, pending, 0.4 + 1.5*rng.Float64()*rng.Float64(), restless, 0.1 + 0.5*rng.Float64()
}

// logged is what the devices write.
func logged(v, crank, watts []float64, s sensors, rng *rand.Rand) *ride.Ride {
	seconds := len(v) / tenths
	speed, cadence, power := make([]float64, seconds), make([]float64, seconds), make([]float64, seconds)
	filtered, wander, last, held := 0.0, 0.0, 0.0, 0.0
	turned, since := 0.0, 0.0
	show := 0.0
	lost := 0
	for i := range v {
		k := i - int(s.lag*tenths)
		was := 0.0
		if k >= 0 {
			was = v[min(k, len(v)-1)]
		}
		if s.smooth > 0 {
			filtered += (was - filtered) / (1 + s.smooth*tenths)
		} else {
			filtered = was
		}
		// The sensor fires once a turn; the device averages over some turns.
		turned += crank[i] / 60 / tenths
		since += 1.0 / tenths
		if turned >= s.turns {
			show, turned, held = 60*turned/since, 0, 0
			since = 0
		} else if held += 1.0 / tenths; held > s.hold+60*s.turns/max(show, 20) {
			show = 0
		}
		if crank[i] == 0 && show == 0 {
			turned, since = 0, 0
		}
		if i%tenths != tenths-1 {
			continue
		}
		t := i / tenths
		wander = s.keep*wander + math.Sqrt(1-s.keep*s.keep)*rng.NormFloat64()
		speed[t] = math.Round(1000*max(0, filtered*(1+s.spread*wander)+s.jitter*rng.NormFloat64())) / 1000
		if filtered == 0 {
			speed[t] = 0
		}
		cadence[t] = math.Round(show)
		if s.gaps > 0 && lost == 0 && rng.Float64() < s.gaps/5 {
			lost = 1 + rng.IntN(9)
		}
		if lost > 0 {
			cadence[t], lost = math.NaN(), lost-1
		}
		mean := 0.0
		for j := i - tenths + 1; j <= i; j++ {
			mean += watts[j] / tenths
		}
		power[t] = math.Round(max(0, 0.7*mean+0.3*last) * (1 + 0.05*rng.NormFloat64()))
		last = mean
	}
	r := ride.New(seconds)
	r.SetColumn(ride.Speed, speed, nil, ride.WheelSensor)
	r.SetColumn(ride.CadenceRPM, cadence, nil, ride.Device)
	if s.power {
		r.SetColumn(ride.RiderPower, power, nil, ride.Device)
	}
	return r
}
