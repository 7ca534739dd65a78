package road

import (
	"math"
	"strings"

	"cogledger/analysis/bike"
	"cogledger/ingest/ride"
)

// Options of Load. The zero value is what a review uses.
type Options struct {
	HeadWind  float64 // m/s from ahead during the whole ride, to try what wind would change
	WindSigma float64 // m/s, spread of the wind along the road at the rider's height; 0 means 1.5
	Into      *Series // to fill and return, its memory used again; nil makes a new one
}

// movingSpeed in m/s is where walking the bike ends and riding starts.
const movingSpeed = 0.5

// WindAlong in m/s is the spread of the wind along the road that nobody measured:
// a light breeze of 3 to 4 m/s at the ten metres of weather reports is about half
// as strong at a rider's height among houses and trees, and its part along the
// road less again. Common practice, not a measurement.
const WindAlong = 1.5

// rougher is what rolling takes over a ride against the profile's value, which is
// that of the usual surface: stretches of gravel, setts and broken tarmac are
// commoner than ones that are smoother. Common practice; at most 10 % either way.
const rougher = 1.05

// Load works out the road load of a ride. Without altitude the grade is unknown,
// and so are Climbing and Demand; an indoor ride has no road.
func Load(r *ride.Ride, p *bike.Profile, o Options) *Series {
	s := o.Into
	if s == nil {
		s = new(Series)
	}
	s.size(r.Len())
	s.move(r)
	halfWindow := 2
	switch r.Origin(ride.Speed) {
	case ride.Satellite, ride.FromPositions, ride.FromDistance:
		halfWindow = 4
	}
	kinetic := s.Demand // scratch: half the square of speed, filled in at the end
	for i, v := range s.Speed {
		kinetic[i] = v * v / 2
	}
	slope(s.Speed, halfWindow, s.Accel)
	slope(kinetic, halfWindow, s.Inertia)

	s.climb(r)
	s.levelGrade()
	load := NewEquation(p)
	s.Mass = load.Mass + load.RotatingMass
	s.air(r, p)
	load.Gravity = Gravity(middle(r, ride.Latitude), 0)
	wind := o.WindSigma
	if wind == 0 {
		wind = WindAlong
	}
	s.WindSigma = wind
	load.Crr *= rougher
	for i, v := range s.Speed {
		load.Density = s.Density[i]
		air := v + o.HeadWind
		t := load.Steady(v, air, s.Grade[i])
		s.Inertia[i] *= s.Mass
		s.Air[i], s.Bearings[i], s.Climbing[i] = t.Air, t.Bearings, t.Climbing
		s.Rolling[i] = t.Rolling
		if math.IsNaN(s.Grade[i]) { // a hill's slant changes rolling by less than half a per cent
			s.Rolling[i] = load.Crr * load.Mass * load.Gravity * v
		}
		s.AirSigma[i] = load.Density * load.CdA * math.Abs(air) * v * wind
		s.Demand[i] = t.Sum() + s.Inertia[i]
	}
	return s
}

// RestsOn reports whether a series can change with a number of the profile, named
// by its dotted key.
func RestsOn(key string) bool {
	return strings.HasPrefix(key, "road.") || strings.HasPrefix(key, "mass.") || key == "thermal.ambient_c"
}

// mostLevelled is the largest common error of the grades that levelGrade takes off:
// a larger difference has another cause, such as a distance that is not the
// speed's.
const mostLevelled = 0.003

// levelGrade moves the grades by their common error, so that climbing them at the
// logged speed ends at the height that the altimeter tells. Lines fitted through
// seconds lean towards where the bike was slow, which is where the road was
// steeper.
func (s *Series) levelGrade() {
	first, last, rise, way := -1, -1, 0.0, 0.0
	for i, h := range s.Altitude {
		step := s.Speed[i] * s.Grade[i]
		if math.IsNaN(h) || math.IsNaN(step) {
			continue
		}
		if first < 0 {
			first = i
		}
		last = i
		rise += step
		way += s.Speed[i]
	}
	if !(way > 0) {
		return
	}
	off := (s.Altitude[last] - s.Altitude[first] - rise) / way
	if math.Abs(off) > mostLevelled {
		return
	}
	for i := range s.Grade {
		s.Grade[i] += off
	}
}

// size makes n seconds of zeros, in the memory that is there where it is enough.
func (s *Series) size(n int) {
	*s = Series{room: s.room, Moving: make([]bool, n)}
	columns := []*[]float64{
		&s.Speed, &s.Distance, &s.Accel, &s.Altitude, &s.Grade, &s.GradeSigma, &s.Density,
		&s.Air, &s.AirSigma, &s.Rolling, &s.Bearings, &s.Climbing, &s.Inertia, &s.Demand,
	}
	if cap(s.room) < n*len(columns) {
		s.room = make([]float64, n*len(columns))
	}
	s.room = s.room[:n*len(columns)]
	clear(s.room)
	for k, c := range columns {
		*c = s.room[k*n : (k+1)*n : (k+1)*n]
	}
}

// move fills speed and distance. A pause of the log is a gap in speed.
func (s *Series) move(r *ride.Ride) {
	speed, distance := r.Column(ride.Speed), r.Column(ride.Distance)
	at := 0.0
	for i := range s.Speed {
		v := math.NaN()
		if speed != nil && !r.Paused(i) {
			v = speed[i]
		}
		s.Speed[i] = v
		s.Moving[i] = v > movingSpeed
		switch {
		case distance != nil && !math.IsNaN(distance[i]):
			at = max(at, distance[i])
		case distance == nil && i > 0 && v > 0:
			at += v
		}
		s.Distance[i] = at
	}
}

// climb fills altitude and grade.
func (s *Series) climb(r *ride.Ride) {
	altitude := r.Column(ride.Altitude)
	if altitude == nil {
		for i := range s.Grade {
			s.Altitude[i], s.Grade[i], s.GradeSigma[i] = math.NaN(), math.NaN(), math.NaN()
		}
		return
	}
	p := relief{height: s.Altitude, grade: s.Grade, gradeSigma: s.GradeSigma}
	p.fit(s.Distance, altitude)
	s.AltitudeSigma = p.sigma
}

// air fills the density: pressure of the standard atmosphere at the ride's
// height, temperature as logged, else the profile's. An unknown height is read
// as sea level, which costs at most 1 % per 100 m.
func (s *Series) air(r *ride.Ride, p *bike.Profile) {
	temperature := r.Column(ride.AirTemp)
	density, height, warm := math.NaN(), math.NaN(), math.NaN()
	for i := range s.Density {
		h, t := s.Altitude[i], p.Thermal.AmbientC
		if math.IsNaN(h) {
			h = 0
		}
		if temperature != nil && !math.IsNaN(temperature[i]) {
			t = temperature[i]
		}
		// Five metres or half a degree are two parts in a thousand.
		if !(math.Abs(h-height) < 5 && math.Abs(t-warm) < 0.5) {
			_, pressure, _ := StandardAir(h)
			density, height, warm = Density(pressure, t), h, t
		}
		s.Density[i] = density
	}
}

// middle is the mean of a channel, NaN when it is absent.
func middle(r *ride.Ride, c ride.Channel) float64 {
	var sum, n float64
	for _, v := range r.Column(c) {
		if !math.IsNaN(v) {
			sum, n = sum+v, n+1
		}
	}
	return sum / n
}
