package made

import (
	"math"

	"cogledger/analysis/bike"
)

const (
	// gravity at the made road's latitude of 54.86° by the formula of WGS 84.
	gravity = 9.81454
	// wheelsKg is what both wheels' spin adds to the mass: 0.1 kg m² each on a
	// rolling radius of 0.35 m (common practice).
	wheelsKg = 1.6
	// guideDrag is what a sprung chain's guide wheels and slack span hold back,
	// N of chain tension: with it a chain on 52 and 21 teeth under 305 N passes
	// 98.6 % of the power, the best that Spicer et al. 2001 measured (teeth and
	// tension from memory).
	guideDrag = 1.8
	// pitch of a bicycle chain, m.
	pitch = 12.7e-3
)

// airDensity of the standard's dry air at a temperature and pressure.
func airDensity(c, pascal float64) float64 {
	if pascal == 0 {
		pascal = 101325
	}
	const gasConstant = 287.05287 // J/(kg K), ISO 2533
	return pascal / (gasConstant * (c + 273.15))
}

// guideTorque is that drag at the crank, N m. A chain without guide wheels
// has next to none. dirt is a factor on what a clean chain loses.
func guideTorque(g bike.Gear, dirt float64) float64 {
	if g.HubStep > 0 {
		return 0
	}
	return dirt * guideDrag * float64(g.Front) * pitch / (2 * math.Pi)
}

// chainLoss is the share of power lost in a chain on the gear's ring and cog,
// by friction of the pins as they bend: mu r pi²/pitch (1/N1 + 1/N2), from the
// loss N1 w mu r (pi/2) T (1/N1 + 1/N2) divided by T times the chain's speed.
// Pin radius and friction are those of the worked example for that formula. A
// gear hub's wheels lose 2 % and more the further they gear up or down (common
// practice).
func chainLoss(g bike.Gear, dirt float64) float64 {
	const (
		friction  = 0.09
		pinRadius = 1.75968e-3
	)
	front, rear := float64(g.Front), float64(g.Rear)
	loss := dirt * friction * pinRadius * math.Pi * math.Pi / pitch * (1/front + 1/rear)
	if g.HubStep > 0 {
		loss += 0.02 + 0.03*min(1, math.Abs(math.Log(g.Ratio*rear/front)))
	}
	return loss
}
