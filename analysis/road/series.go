// Package road is what the road and the air ask of a bike: standard
// atmosphere, gravity, grade, and the road-load equation with each term by
// itself.
package road

import (
	"math"

	"cogledger/analysis/doubt"
)

// A Series is what road and air ask of the bike, second by second. Columns
// have one value a second, NaN where unknown; powers in W at the wheel.
type Series struct {
	Moving     []bool    // not paused and faster than 0.5 m/s
	Speed      []float64 // m/s, as logged
	Distance   []float64 // m from the start, never falling, never NaN
	Accel      []float64 // m/s²
	Altitude   []float64 // m, smoothed
	Grade      []float64 // rise over run
	GradeSigma []float64 // standard deviation of Grade
	Density    []float64 // kg/m³

	Air      []float64 // in still air: see AirSigma
	AirSigma []float64 // standard deviation of Air for the wind that no log tells
	Rolling  []float64
	Bearings []float64
	Climbing []float64
	Inertia  []float64 // into speed; negative while slowing
	Demand   []float64 // their sum; brakes not counted

	WindSigma     float64 // m/s, spread of the wind along the road that AirSigma rests on
	AltitudeSigma float64 // m, scatter of the altimeter about a smooth road; 0 without altitude
	Mass          float64 // kg, with the wheels' rotation

	room []float64 // that the columns lie in
}

// HeightDoubt is the half-width in m of the 90 % range of the height won over the
// ride: the altimeter's scatter at both ends, and the weather, which moves a
// barometer's reading by some half a metre in an hour, growing with the root of the
// time (common practice; a front moves it more). Zero without altitude.
func (s *Series) HeightDoubt() float64 {
	const perRootHour = 0.5
	if s.AltitudeSigma == 0 {
		return 0
	}
	hours := float64(len(s.Altitude)) / 3600
	return doubt.HalfWidth(math.Hypot(s.AltitudeSigma*math.Sqrt2, perRootHour*math.Sqrt(hours)))
}

// WindMean is the power in W that air takes in second i beyond Air because the
// wind, of which nothing is known, blows from all sides: still air is the least
// that a round trip can meet. For a wind of independent parts along and across
// the road, both of spread s, the mean of |a| a·e is v² + 3/2 s² to second
// order in s/v; the root brings it to nothing in a standing bike.
func (s *Series) WindMean(i int) float64 {
	return 0.75 * s.AirSigma[i] * s.WindSigma / math.Hypot(s.Speed[i], s.WindSigma)
}
