package made

import (
	"fmt"
	"math"

	"cogledger/analysis/bike"
)

// A Rerun is a ride once more in other gears, at the same speed second by
// second, with the same power at the wheel and from the legs.
type Rerun struct {
	TerminalWh float64               // out of the battery's terminals
	Wh         [AccountCount]float64 // on the battery's side
	WindingC   float64               // peak
	Limited    float64               // s in which the drive could not have held the ride in that gear; the gear ridden is booked there
	Terminal   Column                // W, mean over the second
}

// Replay rides the ride again with plan[i] as the gear of second i, an index
// into the profile's gears; -1 keeps the gear ridden. Winding and battery warm
// and sag as they would in those gears.
func (r *Ride) Replay(plan []int) (Rerun, error) {
	if len(plan) != r.Truth.Seconds {
		return Rerun{}, fmt.Errorf("a plan of %d seconds for a ride of %d", len(plan), r.Truth.Seconds)
	}
	if r.Bike.Drive.Kind == bike.Hub {
		return Rerun{}, fmt.Errorf("a hub motor turns with the wheel: gears change nothing in its books")
	}
	s := newSim(r.Bike, r.scenario, r.rider, r.seed)
	for i, g := range plan {
		if g < -1 || g >= len(s.gears) {
			return Rerun{}, fmt.Errorf("second %d of the plan asks for gear %d of %d", i, g, len(s.gears))
		}
	}
	again := rerun{furnace: s.furnace, battery: s.battery, sim: s}
	again.out.Terminal = make(Column, len(plan))
	again.out.WindingC = s.furnace.winding
	second, k := 0, 0
	s.trace = func(n *step) {
		again.step(n, plan[second], second)
		if k++; k == perSecond {
			second, k = second+1, 0
		}
	}
	s.run()
	return again.out, nil
}

type rerun struct {
	sim     *sim
	furnace furnace
	battery battery
	out     Rerun
}

func (r *rerun) step(n *step, gear, second int) {
	if gear < 0 {
		gear = n.gear
	}
	as := *n
	as.machine = r.sim.motor.at(r.furnace.winding, r.furnace.housing)
	as.mostPower = r.battery.mostPower(r.sim.motor.batteryLimit)
	e := r.sim.other(&as, gear)
	if e.limited && gear != n.gear {
		r.out.Limited += stepS
		e = r.sim.other(&as, n.gear)
	}
	e.terminal += n.spin
	e.terminal = min(e.terminal, as.mostPower)
	e.book[Rotor] += n.spin
	load := r.battery.load(e.terminal)
	e.book[Stored] = load.open * load.amps
	e.book[BatteryHeat] = (load.open - load.volts) * load.amps
	for a := Stored; a <= Delivered; a++ {
		r.out.Wh[a] += e.book[a] * stepS / 3600
	}
	r.out.TerminalWh += e.terminal * stepS / 3600
	r.out.Terminal[second] += e.terminal / perSecond
	r.furnace.heat(e.book[Copper], e.book[Drag]+r.sim.bike.Thermal.ControllerShare*e.book[Controller], r.sim.scenario.AirC, n.v, stepS)
	r.battery.take(load.amps, stepS)
	r.out.WindingC = math.Max(r.out.WindingC, r.furnace.winding)
}
