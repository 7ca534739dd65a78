package ride

import "math"

// The WGS 84 ellipsoid.
const (
	equatorRadius       = 6378137.0
	flattening          = 1 / 298.257223563
	eccentricitySquared = flattening * (2 - flattening)
	degree              = math.Pi / 180
)

// GroundDistance is the length in metres of the line between two points of
// the WGS 84 ellipsoid given in degrees.
//
// It takes the ellipsoid's two radii of curvature at the middle latitude and
// treats the patch between the points as flat. It is meant for the steps of a
// ride: below 1 km it is within a micrometre a metre of the geodesic, at 50 km
// within half a metre, away from the poles. It is no formula for continents.
func GroundDistance(lat1, lon1, lat2, lon2 float64) float64 {
	east, north := GroundOffset(lat1, lon1, lat2, lon2)
	return math.Sqrt(east*east + north*north)
}

// GroundOffset is the way from the first point to the second in metres east
// and north, by the same formula as GroundDistance.
func GroundOffset(lat1, lon1, lat2, lon2 float64) (east, north float64) {
	sin, cos := math.Sincos((lat1 + lat2) / 2 * degree)
	w2 := 1 - eccentricitySquared*sin*sin
	primeVertical := equatorRadius / math.Sqrt(w2)
	meridional := primeVertical * (1 - eccentricitySquared) / w2
	turn := lon2 - lon1
	if turn > 180 {
		turn -= 360
	} else if turn < -180 {
		turn += 360
	}
	return primeVertical * cos * turn * degree, meridional * (lat2 - lat1) * degree
}
