package road

import (
	"math"

	"cogledger/analysis/bike"
)

// An Equation is a bike on a road: what the equation of motion needs.
type Equation struct {
	Mass         float64 // kg of bike, rider and load
	RotatingMass float64 // kg, the wheels' inertia over the square of their radius
	CdA          float64 // m², the wheels' own drag included
	Crr          float64
	Density      float64 // kg/m³
	Gravity      float64 // m/s²
	BearingLoss  float64 // factor on the wheel bearings' drag; 0 means 1
}

// wheelInertia is 0.14 kg m² for a pair of wheels (Martin et al. 1998).
const wheelInertia = 0.14

// NewEquation reads the bike of a profile; density and gravity are left to the
// place.
func NewEquation(p *bike.Profile) Equation {
	radius := p.Circumference() / (2 * math.Pi)
	return Equation{
		Mass: p.Mass.Total(), RotatingMass: wheelInertia / (radius * radius),
		CdA: p.Road.CdA, Crr: p.Road.Crr, BearingLoss: p.Road.BearingLossFactor,
	}
}

// Terms are the parts of the road load in W at the wheel.
type Terms struct{ Air, Rolling, Bearings, Climbing float64 }

// Sum of the terms.
func (t Terms) Sum() float64 { return t.Air + t.Rolling + t.Bearings + t.Climbing }

// Steady is what the road takes at a ground speed and an air speed (m/s,
// positive from ahead) on a grade (rise over run). It is the equation of
// Martin et al. 1998, J. Appl. Biomech. 14:276:
//
//	rho/2 CdA va² v + Crr m g cos v + v (91 + 8.7 v)/1000 + m g sin v
func (l Equation) Steady(speed, airSpeed, grade float64) Terms {
	cos := 1 / math.Sqrt(1+grade*grade)
	bearings := l.BearingLoss
	if bearings == 0 {
		bearings = 1
	}
	weight := l.Mass * l.Gravity * cos * speed
	return Terms{
		Air:      l.Density / 2 * l.CdA * airSpeed * math.Abs(airSpeed) * speed,
		Rolling:  l.Crr * weight,
		Bearings: bearings * speed * (91 + 8.7*speed) / 1000,
		Climbing: weight * grade,
	}
}

// Inertia is the power in W that goes into speed between two speeds in m/s
// within seconds: (m + I/r²)(vf² - vi²)/(2 dt).
func (l Equation) Inertia(from, to, seconds float64) float64 {
	return (l.Mass + l.RotatingMass) * (to*to - from*from) / (2 * seconds)
}
