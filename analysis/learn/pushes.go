package learn

import (
	"math"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/ingest/ride"
)

// A push is one second in which legs and motor pushed steadily.
type push struct {
	terminal float64 // W
	volts    float64
	legs     float64 // N m at the crank
	speed    float64 // rad/s of the motor
	warmth   float64 // R(T)/R25
	level    int
	second   int // running over all rides
}

// steadyPushes gathers the seconds that tell. Levels are counted from 0 in the
// order met; those with too few seconds are left out.
func steadyPushes(rides []Read, p *bike.Profile, unit drive.Unit) ([]push, int) {
	var all []push
	counts := map[int]int{}
	start := 0
	for _, rd := range rides {
		start += rd.Ride.Len()
		if rd.Drive.Knowledge != drive.FromBattery || rd.Drive.VoltsModelled {
			continue
		}
		cadence, legs := rd.Ride.Column(ride.CadenceRPM), rd.Ride.Column(ride.RiderPower)
		if cadence == nil || legs == nil {
			continue
		}
		torque := crankTorque(cadence, legs, p.Sensors.RiderPower)
		for i := 2; i < len(torque)-1; i++ {
			if !steady(torque, i) || !steady(cadence, i) || rd.Road.Speed[i] > unit.Cutoff-0.4 || !(rd.Drive.Terminal[i] > unit.Fixed+20) {
				continue
			}
			speed := rd.Drive.MotorSpeed[i]
			if turn := unit.SpeedAtCadence(cadence[i]); !(math.Abs(speed/turn-1) < 0.06) {
				continue
			}
			level := 0
			if v := rd.Ride.At(ride.AssistLevel, i); !math.IsNaN(v) {
				level = int(math.Round(v))
			}
			counts[level]++
			all = append(all, push{
				terminal: rd.Drive.Terminal[i], volts: rd.Drive.Volts[i], legs: torque[i], speed: speed,
				warmth: unit.Resistance(rd.Drive.Winding[i]) / unit.R25, level: level, second: start + i,
			})
		}
	}
	const leastOfLevel = 60
	place := map[int]int{}
	kept := all[:0]
	for _, x := range all {
		if counts[x.level] < leastOfLevel {
			continue
		}
		at, met := place[x.level]
		if !met {
			at = len(place)
			place[x.level] = at
		}
		x.level = at
		kept = append(kept, x)
	}
	return kept, len(place)
}

// crankTorque in N m, NaN where the crank hardly turns or nobody pushes.
func crankTorque(cadence, legs []float64, factor float64) []float64 {
	const leastRPM, leastW = 20, 25
	torque := make([]float64, len(cadence))
	for i := range torque {
		torque[i] = math.NaN()
		if w := legs[i] * factor; cadence[i] >= leastRPM && w >= leastW {
			torque[i] = w / (cadence[i] * 2 * math.Pi / 60)
		}
	}
	return torque
}

// steady reports whether a column changes by less than an eighth from two
// seconds before to one after: the torque sensor's filter has settled.
func steady(x []float64, i int) bool {
	low, high := x[i-2], x[i-2]
	for _, v := range x[i-1 : i+2] {
		low, high = min(low, v), max(high, v)
	}
	return high <= low*1.125 // false for NaN
}
