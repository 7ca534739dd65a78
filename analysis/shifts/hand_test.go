package shifts

import (
	"math"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/road"
	"cogledger/ingest/ride"
)

// The sums of this file are those of the example bike, written out with its
// numbers and worked ten times a second, without a line of the program:
//
//	wheel rolls 2.2 m a turn; 108 kg; 38 teeth in front; motor turns 36 times a crank turn
//	force at the wheel   F = 108 a + 108*9.81*(grade + 0.008) + 0.5*1.2*0.55 v²
//	crank turns          n = v / (2.2 * 38/cog) a second, legs give min(100 W, 40 N m * 2 pi n)
//	chain loses          0.123 (1/38 + 1/cog) of what runs through it, and 1.8 N * 38 * 12.7 mm * n
//	motor                w = 2 pi * 36 n, torque = (F v / chain - legs) / 0.95 / w
//	                     I = (torque + 0.015 + 0.00006 w) / 0.095
//	battery              P = (0.095 w + 0.1177 I) I + 3 + 0.25 I + 0.012 I²    (0.12 ohm at 25 °C are 0.1177 at 20)
//
// One instant of each, to be followed with pencil and paper:
//
//	start, 1 m/s² at 2 m/s:  F = 108 + 8.48 + 1.32 = 117.8 N, 235.6 W
//	  in 13: n = 0.311, legs 78.2 W, chain 0.0127 and 0.27 W, motor 160.7 W of 238.9, w = 70.3
//	         torque 2.405, I = 25.5 A, P = 170.5 + 76.6 + 3 + 6.4 + 7.8 = 264 W
//	  in 28: n = 0.670, legs as before, w = 151.5, torque 1.110, I = 11.9, P = 171.9 + 16.8 + 3 + 3.0 + 1.7 = 196 W
//	climb of 8 % at 3.5 m/s: F = 84.8 + 8.5 + 4.0 = 97.3 N, 340 W
//	  in 15: n = 0.628, w = 142, legs 100 W, torque 1.815, I = 19.4, P = 261.2 + 44.1 + 3 + 4.8 + 4.5 = 318 W
//	  in 28: n = 1.172, w = 265, torque 0.969, I = 10.5, P = 265.2 + 13.0 + 3 + 2.6 + 1.3 = 285 W
//	stop: nothing is saved in it; what is, is that of the start in the gear that it leaves behind.
//
// The winding warms by a degree for each 120 J of heat, of which it hands on
// one W for each 0.45 °C above the housing, taken as still cold; its ohms rise
// by 0.393 % of those at 20 °C for each degree.
func handBatteryW(i instant, cog float64) float64 {
	watts, _ := hand(i, cog)
	return watts
}

func hand(i instant, cog float64) (watts, heat float64) {
	v, force, legs := i.v, i.force, i.legs
	n := v / (2.2 * 38 / cog)
	need := (force*v+1.8*38*0.0127*n)/(1-0.123*(1./38+1/cog)) - legs
	if need <= 2 || n == 0 { // the legs carry it
		return 3, 0
	}
	w := 2 * math.Pi * 36 * n
	amps := (need/0.95/w + 0.015 + 0.00006*w) / 0.095
	if 0.095*w+i.ohm*amps > handVolts {
		return math.NaN(), 0 // more volts than the battery has
	}
	return (0.095*w+i.ohm*amps)*amps + 3 + 0.25*amps + 0.012*amps*amps, i.ohm * amps * amps
}

const handVolts = 47 // of the battery, held for simplicity

// An instant of a hand-made ride, ten to the second.
type instant struct{ v, force, legs, cog, ohm float64 }

// handRide holds the cog of the rider over a way of speeds at every tenth of a
// second and one grade.
func handRide(speeds []float64, grade, cog float64) []instant {
	all, warmer := make([]instant, 0, len(speeds)), 0.0
	for k := 1; k < len(speeds); k++ {
		v, accel := (speeds[k-1]+speeds[k])/2, (speeds[k]-speeds[k-1])/0.1
		x := instant{v: v, cog: cog, ohm: 0.1177 * (1 + 0.00393*warmer)}
		if force := 108*accel + 108*9.81*(grade+0.008) + 0.5*1.2*0.55*v*v; v > 0 && force > 0 {
			n := v / (2.2 * 38 / cog)
			x.force, x.legs = force, min(100, 40*2*math.Pi*n)
			if math.Abs(accel) < 1e-9 && grade == 0 { // steady on the level the legs do without the motor
				x.legs = force*v + 1
			}
		}
		_, heat := hand(x, cog)
		warmer += 0.1 * (heat - warmer/0.45) / 120
		all = append(all, x)
	}
	return all
}

// toSpeed adds speeds, ten a second, from the last to another at an
// acceleration that fades over the last 1.5 m/s, as in a start, then holds it for
// so many seconds.
func toSpeed(speeds []float64, to, accel, seconds float64) []float64 {
	if len(speeds) == 0 {
		speeds = []float64{0}
	}
	last := speeds[len(speeds)-1]
	for math.Abs(last-to) > 0.02 {
		last += 0.1 * accel * max(-1, min(1, (to-last)/1.5))
		speeds = append(speeds, last)
	}
	for range int(10 * seconds) {
		speeds = append(speeds, to)
	}
	return speeds
}

// logged is what devices tell of a hand-made ride: means of each second.
func logged(t testing.TB, all []instant, grade float64) madeRide {
	t.Helper()
	p := bike.Example()
	p.Wheel = bike.Wheel{RolloutMM: 2200}
	n := len(all) / 10
	x := madeRide{p: p, r: ride.New(n), inf: &gears.Inference{
		Index: make([]int, n), Best: make([]int, n), Probability: make([]float64, n), Coupled: make([]float64, n), Circumference: 2.2,
	}}
	speed, rpm, volts, amps, legs, altitude, height := column(n), column(n), column(n), column(n), column(n), column(n), 100.0
	for s := range n {
		pushed := false
		for _, i := range all[10*s:][:10] {
			watts := handBatteryW(i, i.cog)
			speed[s] += i.v / 10
			amps[s] += watts / handVolts / 10
			legs[s] += i.legs / 10
			height += i.v * grade / 10
			if i.force > 0 {
				pushed = true
				rpm[s] += 60 * i.v / (2.2 * 38 / i.cog) / 10
			}
		}
		volts[s], altitude[s] = handVolts, height
		g := gears.Unknown
		if pushed {
			for k, gear := range p.Gears() {
				if float64(gear.Rear) == all[10*s].cog {
					g = k
				}
			}
			x.inf.Coupled[s], x.inf.Probability[s] = 1, 1
		}
		x.inf.Index[s], x.inf.Best[s] = g, g
	}
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

// handSaving in Wh of riding the given gears, one a second, in place of those
// ridden; gears below zero keep the ridden one. A tenth of a second whose gear
// the battery cannot feed saves nothing.
func handSaving(all []instant, p *bike.Profile, gear []int) float64 {
	joules := 0.0
	for s, g := range gear {
		if g < 0 {
			continue
		}
		for _, i := range all[10*s:][:10] {
			saved := handBatteryW(i, i.cog) - handBatteryW(i, float64(p.Gears()[g].Rear))
			if saved == saved { // not NaN
				joules += 0.1 * saved
			}
		}
	}
	return joules / 3600
}

// TestSavingsByHand holds the plan's saving and the rule's against the sums
// above in the gears that each rode, within 5 %.
func TestSavingsByHand(t *testing.T) {
	for _, c := range []struct {
		name   string
		speeds []float64
		grade  float64
		cog    float64
		least  float64 // Wh that the plan saves
		stops  bool
	}{
		{name: "a start", speeds: toSpeed(toSpeed(nil, 0, 1, 5.3), 5.5, 1, 20), cog: 13, least: 0.05},
		{name: "a climb", speeds: toSpeed(toSpeed(nil, 3.5, 0.3, 120), 3.5, 1, 0), grade: 0.08, cog: 15, least: 0.5},
		{name: "a stop", speeds: toSpeed(toSpeed(toSpeed(toSpeed(nil, 5.5, 1, 30), 2.5, 0.1, 0), 0, 1, 12), 5.5, 0.7, 25), cog: 13, least: 0.1, stops: true},
	} {
		all := handRide(c.speeds, c.grade, c.cog)
		x := logged(t, all, c.grade)
		plan := x.plan()
		check := func(who string, saving float64, gear []int) {
			hand := handSaving(all, x.p, gear)
			t.Logf("%s, %s: %.3f Wh, by hand %.3f", c.name, who, saving, hand)
			if !(hand > 0) || math.Abs(saving-hand) > 0.05*hand {
				t.Errorf("%s, %s: %.3f Wh, by hand %.3f", c.name, who, saving, hand)
			}
		}
		check("plan", plan.Saving.Value, plan.Gear)
		if stand := 40; c.stops { // the stop leaves a lower gear behind, taken before the cranks stand
			for x.rd.Moving[stand] {
				stand++
			}
			before, after := stand, stand
			for plan.Gear[before] < 0 || !(x.turns(before) > 0) {
				before--
			}
			for plan.Gear[after] < 0 || !(x.turns(after) > 0) {
				after++
			}
			if !(plan.Gear[before] < x.inf.Index[before]) || plan.Gear[after] != plan.Gear[before] {
				t.Errorf("%s: stops in gear %d of the ride's %d and starts in %d", c.name, plan.Gear[before], x.inf.Index[before], plan.Gear[after])
			}
		}
		if !(plan.Saving.Value > c.least) {
			t.Errorf("%s: the plan saves %.3f Wh", c.name, plan.Saving.Value)
		}
		tried := Try(x.r, x.p, x.inf, x.rd, x.d, x.m).Whole()
		for k, policy := range Policies() {
			if policy == (Policy{70, 95}) {
				check("rule", tried[k].SavedWh, Follow(policy, x.r, x.p, x.inf, x.rd, x.d, x.m))
			}
		}
	}
}
