package drive

import "cogledger/analysis/bike"

// A Matrix is what the battery would have given in every gear, second by
// second: same wheel speed, same power at the wheel, same leg power. Cells lie
// second-major, second*Gears + gear.
//
// Where the motor was not loaded no gear changes anything, and every cell
// holds what the battery gave. Where the log cannot tell, cells are NaN.
type Matrix struct {
	Seconds, Gears int

	Terminal    []float32 // W out of the battery's terminals, without the battery's own heat
	BatteryHeat []float32 // W in the battery's resistance
	Limits      []Limit   // what forbids the gear in that second

	speed        []float64 // m/s of the wheel, its lag taken off, NaN where unknown
	scale        []float64 // ridden motor speed over the one by wheel speed and gear, 1 where they agree
	speedPerMPS  []float64 // a gear
	cadencePerMS []float64 // a gear
}

// At is the index of a second and a gear in the columns.
func (m *Matrix) At(second, gear int) int { return second*m.Gears + gear }

// MotorSpeed in rad/s that the gear would have meant.
func (m *Matrix) MotorSpeed(second, gear int) float64 {
	return m.speed[second] * m.scale[second] * m.speedPerMPS[gear]
}

// CadenceRPM that the gear would have meant, on the same scale as the motor's
// speed: the crank turns with it.
func (m *Matrix) CadenceRPM(second, gear int) float64 {
	return m.speed[second] * m.scale[second] * m.cadencePerMS[gear]
}

// Stored is the power in W taken from the battery's store, its heat included.
func (m *Matrix) Stored(second, gear int) float64 {
	k := m.At(second, gear)
	return float64(m.Terminal[k]) + float64(m.BatteryHeat[k])
}

// AtWheel is the drive that holds wheelW at the wheel in gear g at wheelMPS
// with legsW of the rider's power at the crank. Where the legs alone do it the
// motor is idle.
func (u Unit) AtWheel(g bike.Gear, wheelMPS, wheelW, legsW, windingC, openCircuitV float64) Point {
	c, dragPerMPS := chainFor(g, u.circumference, u.ChainLoss)
	c.drag = wheelMPS * dragPerMPS
	return u.atWheel(c, wheelMPS*u.speedPerMPS(g), wheelW, legsW, windingC, openCircuitV)
}

func (u *Unit) atWheel(c chain, speed, wheelW, legsW, windingC, openCircuitV float64) Point {
	need := 0.0
	if u.hub {
		need = wheelW - c.through(legsW)
	} else if wheelW > 0 {
		need = c.in(wheelW) - legsW
	}
	switch {
	case need > 0 && speed > 0:
		return u.AtShaft(speed, need/u.Reduction, windingC, openCircuitV)
	case u.Clutch || speed <= 0:
		return u.Off(u.Fixed, openCircuitV)
	}
	return u.AtAmps(speed, 0, windingC, openCircuitV)
}
