package ledger

import (
	"math"

	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/road"
)

const perHour = 1.0 / 3600

// leastBooked is the share of the moving seconds that a side must be able to
// book to be shown at all: a ledger of a few seconds would read as zeros.
const leastBooked = 0.1

// Close books a ride. Seconds whose data do not reach are left out of that
// side and counted; a side that reaches hardly any is left empty.
func Close(d *drive.Series, rd *road.Series) Books {
	var b Books
	b.closeBattery(d, rd)
	b.closeWheel(d, rd)
	moving := 0
	for _, m := range rd.Moving {
		if m {
			moving++
		}
	}
	most := (1 - leastBooked) * float64(moving)
	if float64(b.UnbookedSeconds) > most {
		b.Battery, b.BatteryResidual = nil, 0
	}
	if float64(b.UnbookedWheelSeconds) > most {
		b.Wheel, b.WheelResidual = nil, 0
	}
	return b
}

func (b *Books) closeBattery(d *drive.Series, rd *road.Series) {
	var store, charged, untold, heat, controller, copper, drag, reduction, chain, delivered float64
	for i, moving := range rd.Moving {
		if math.IsNaN(d.Terminal[i]) {
			if moving {
				b.UnbookedSeconds++
			}
			continue
		}
		in := d.OpenCircuit[i] * d.Amps[i]
		store += max(0, in)
		charged += max(0, -in)
		heat += d.BatteryHeat[i]
		if math.IsNaN(d.Shaft[i]) {
			untold += d.Terminal[i]
			continue
		}
		controller += d.Controller[i]
		copper += d.Copper[i]
		drag += d.Drag[i]
		reduction += d.Reduction[i]
		chain += d.Chain[i]
		delivered += d.Delivered[i]
	}
	basis := d.Knowledge.Basis().Weaker(doubt.Derived)
	in := basis
	if d.Knowledge == drive.FromBattery && !d.VoltsModelled {
		in = doubt.Measured
	}
	b.Battery = []Account{
		account(Store, store, in),
		account(Heat, heat, basis),
		account(Controller, controller, basis),
		account(Copper, copper, basis),
		account(Drag, drag, basis),
		account(Reduction, reduction, basis),
		account(Chain, chain, basis),
		account(Delivered, delivered, basis),
	}
	if charged > 0 {
		b.Battery = append(b.Battery, account(Charged, charged, in))
	}
	if untold != 0 {
		b.Battery = append(b.Battery, account(Untold, untold, in))
	}
	b.BatteryResidual = residual(b.Battery, 1)
}

func (b *Books) closeWheel(d *drive.Series, rd *road.Series) {
	var motor, dragged, legs, legsChain, air, rolling, bearings, climbing, speed, brakes, unexplained float64
	for i, moving := range rd.Moving {
		// Standing seconds count too: the smoothed speed of a stop reaches into them.
		left := d.Delivered[i] + d.Legs[i] - d.LegsChain[i] - rd.Demand[i] - rd.WindMean(i)
		if math.IsNaN(left) {
			if moving {
				b.UnbookedWheelSeconds++
			}
			continue
		}
		motor += max(0, d.Delivered[i])
		dragged += max(0, -d.Delivered[i])
		legs += d.Legs[i]
		legsChain += d.LegsChain[i]
		air += rd.Air[i] + rd.WindMean(i)
		rolling += rd.Rolling[i]
		bearings += rd.Bearings[i]
		climbing += rd.Climbing[i]
		speed += rd.Inertia[i]
		if braked(d, rd, i, left) {
			brakes += left
		} else {
			unexplained += left
		}
	}
	known := d.Knowledge.Basis().Weaker(doubt.Derived)
	rider := doubt.Modelled
	if d.LegsMeasured {
		rider = doubt.Measured
	}
	b.Wheel = []Account{
		account(FromMotor, motor, known),
		account(FromLegs, legs, rider),
		account(LegsChain, legsChain, rider.Weaker(doubt.Derived)),
		account(Air, air, doubt.Modelled), // no log tells the wind
		account(Rolling, rolling, doubt.Derived),
		account(Bearings, bearings, doubt.Derived),
		account(Climbing, climbing, doubt.Derived),
		account(Speed, speed, doubt.Derived),
		account(Brakes, brakes, doubt.Modelled),
		account(Unexplained, unexplained, doubt.Modelled),
	}
	if dragged > 0 {
		b.Wheel = append(b.Wheel, account(Dragged, dragged, known))
	}
	b.WheelResidual = residual(b.Wheel, 2)
}

// account is a line of as many joules, one W a second.
func account(name string, joules float64, basis doubt.Basis) Account {
	wh := joules * perHour
	return Account{name, wh, wh, wh, basis}
}

// braked tells whether a surplus of power went into the brakes: only while the
// bike slows harder than it would by coasting, or while nobody pushes, and
// only if wind and a wrong grade do not explain it.
func braked(d *drive.Series, rd *road.Series, i int, left float64) bool {
	pushed := d.Legs[i] > 0 || d.Delivered[i] > 0
	if pushed && rd.Demand[i] >= 0 {
		return false
	}
	const gravity = 9.81
	hill := rd.GradeSigma[i] * rd.Mass * gravity * rd.Speed[i]
	return left > math.Hypot(rd.AirSigma[i], hill)
}

// residual is what came in on the first lines less all the others.
func residual(accounts []Account, in int) float64 {
	var left float64
	for k, a := range accounts {
		if k < in {
			left += a.Wh
		} else {
			left -= a.Wh
		}
	}
	return left
}
