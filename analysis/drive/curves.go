package drive

import (
	"math"

	"cogledger/analysis/bike"
	"cogledger/analysis/road"
)

// An EfficiencyCurve is a drive's efficiency against motor speed at one output.
type EfficiencyCurve struct {
	ShaftW     float64
	Speed      []float64 // rad/s
	Efficiency []float64 // battery's terminals to shaft, NaN where a limit forbids the point
	Band       Band
}

// EfficiencyCurves works out one curve for each output in W, with the winding
// at windingC and the battery at the unit's voltage, at the given speeds in
// rad/s.
func (u Unit) EfficiencyCurves(shaftW, speeds []float64, windingC float64) []EfficiencyCurve {
	curves := make([]EfficiencyCurve, len(shaftW))
	for i, w := range shaftW {
		c := EfficiencyCurve{ShaftW: w, Speed: speeds, Efficiency: make([]float64, len(speeds)), Band: u.BandAt(w, windingC, u.OpenCircuitV)}
		for k, speed := range speeds {
			c.Efficiency[k] = u.allowed(u.AtShaft(speed, w, windingC, u.OpenCircuitV))
		}
		curves[i] = c
	}
	return curves
}

// An EfficiencyMap is a drive's efficiency over speed and torque.
type EfficiencyMap struct {
	Speed      []float64   // rad/s
	Torque     []float64   // N m at the shaft
	Efficiency [][]float64 // a row for each torque, NaN where a limit forbids the point
}

// EfficiencyMap works out a map at the given speeds in rad/s and torques in N m.
func (u Unit) EfficiencyMap(speeds, torques []float64, windingC float64) EfficiencyMap {
	m := EfficiencyMap{speeds, torques, make([][]float64, len(torques))}
	for i, torque := range torques {
		m.Efficiency[i] = make([]float64, len(speeds))
		for k, speed := range speeds {
			m.Efficiency[i][k] = u.allowed(u.AtTorque(speed, torque, windingC, u.OpenCircuitV))
		}
	}
	return m
}

func (u Unit) allowed(pt Point) float64 {
	if pt.Limit != NoLimit {
		return math.NaN()
	}
	return pt.Efficiency()
}

// A PullCurve is what a drive can do at the wheel in one gear.
type PullCurve struct {
	Gear  bike.Gear
	Speed []float64 // m/s
	Force []float64 // N at the wheel's rim: motor at its limits, and the legs
	Accel []float64 // m/s² on the flat in still air, gravity and rolling taken off
}

// Pull works out what the drive pulls in each gear of the bike at the given
// speeds in m/s, cold and with a full push of the motor, the legs adding a
// torque in N m at the crank. A hub motor pulls the same in every gear; the
// legs do not. Above the cut-off speed the legs are alone.
func Pull(p *bike.Profile, legsNm float64, speeds []float64) []PullCurve {
	u := NewUnit(p)
	e := roadOf(p)
	all := p.Gears()
	curves := make([]PullCurve, len(all))
	for i, g := range all {
		c := PullCurve{g, speeds, make([]float64, len(speeds)), make([]float64, len(speeds))}
		for k, v := range speeds {
			c.Force[k] = u.wheelForce(g, v, legsNm)
			c.Accel[k] = (c.Force[k] - resist(e, v, 0)) / (e.Mass + e.RotatingMass)
		}
		curves[i] = c
	}
	return curves
}

// wheelForce is the pull at the rim in N. Forces come from torques, so that
// they hold at standstill, where power is nothing.
func (u Unit) wheelForce(g bike.Gear, speed, legsNm float64) float64 {
	crankPerMetre := 2 * math.Pi / (u.circumference * g.Ratio)
	motor := 0.0
	if speed < u.Cutoff {
		most := u.Most(speed*u.speedPerMPS(g), ReferenceC, u.OpenCircuitV)
		motor = max(0, u.Torque(most.Speed, most.Amps)) * u.Reduction * u.speedPerMPS(g)
	}
	through := legsNm * crankPerMetre
	if !u.hub {
		through += motor
	}
	// The chain carries the rim's force geared down to the ring's pitch circle.
	ring := float64(g.Front) * ChainPitch / (2 * math.Pi)
	through *= ChainEfficiency(g, through/crankPerMetre/ring, u.ChainLoss)
	if u.hub {
		return motor + through
	}
	return through
}

// A RoadLine is the force in N that a road of one grade asks at each speed.
type RoadLine struct {
	Grade float64
	Speed []float64 // m/s
	Force []float64
}

// RoadLines works out what roads of the given grades (rise over run) ask of
// the bike at steady speeds in m/s in still standard air.
func RoadLines(p *bike.Profile, grades, speeds []float64) []RoadLine {
	e := roadOf(p)
	lines := make([]RoadLine, len(grades))
	for i, grade := range grades {
		lines[i] = RoadLine{grade, speeds, make([]float64, len(speeds))}
		for k, v := range speeds {
			lines[i].Force[k] = resist(e, v, grade)
		}
	}
	return lines
}

func roadOf(p *bike.Profile) road.Equation {
	const standardDensity, standardGravity = 1.225, 9.80665
	e := road.NewEquation(p)
	e.Density, e.Gravity = standardDensity, standardGravity
	return e
}

// resist is the road's force at a speed. At standstill it is the limit of
// power over speed.
func resist(e road.Equation, speed, grade float64) float64 {
	const creep = 1e-6 // m/s
	v := max(speed, creep)
	return e.Steady(v, v, grade).Sum() / v
}
