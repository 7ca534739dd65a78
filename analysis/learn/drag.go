package learn

import (
	"fmt"
	"math"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/ingest/ride"
)

// A DragFit is what rides with power at the wheel tell of air drag and rolling
// resistance.
type DragFit struct {
	CdA      doubt.Figure // m²
	Crr      doubt.Figure
	LoadAt25 doubt.Figure // W of air and rolling together at 25 km/h on the flat in still air: known better than its parts
	Winds    []Wind       // one a ride that told
	Seconds  int
}

// A Wind is what a ride tells of the wind at the rider's height, m/s towards
// east and north.
type Wind struct{ East, North doubt.Figure }

// roadDoubt is the half width of the 90 % range, as a share of the load, by
// which roads differ from one another in surface and shelter. Common practice:
// the same tyre rolls a quarter harder on setts than on asphalt.
const roadDoubt = 0.05

// splitDoubt is the same for air and rolling apart: a wind across a straight
// road takes from one and gives to the other. On made rides the intervals then
// hold in nine cases out of ten or a little more.
const splitDoubt = 0.09

const (
	leastDragSeconds = 600
	shortestStretch  = 12 // s
	longestStretch   = 45
	// windPrior in m/s is the standard deviation of each part of the wind, twice
	// what is usual at a rider's height. Along the road the ride tells the wind
	// itself. Across a straight road it shows in nothing but some per cent of the
	// drag, and a wind left free there would take those away from the bike.
	windPrior = 3.0
	usualLag  = 1.0 // s by which a barometer trails the road, and how far that may be off
	gravity   = 9.81
)

// Drag learns air drag and rolling resistance from the seconds in which the
// rider pedals and the motor's power is known from the battery.
//
// Over a stretch of steady pedalling, what legs and motor gave the wheel, less
// what went into speed, height and bearings, is air and rolling:
//
//	E = CdA rho/2 sum |a| (a . e) v + Crr m g sum v,  a = air speed, e = heading
//
// The wind of each ride is a part of the fit where positions tell the heading:
// out and home, it shows. So is the time by which the altimeter trails: at the
// foot of a hill it would take drag for climbing. Mass, meters and reduction are held by the profile's
// tolerances, and so are CdA and Crr themselves, as what was known before.
// The fit is refused where it tells nothing new.
func Drag(rides []Read, p *bike.Profile) (DragFit, error) {
	f, err := fitDrag(rides, p)
	if err != nil {
		return DragFit{}, fmt.Errorf("air drag and rolling resistance: %w", err)
	}
	return f, nil
}

// The road's resistance wanders by surfaceN from one surfaceM to the next.
const (
	surfaceN = 2.0   // N
	surfaceM = 200.0 // m
)

// A stretch is some seconds of pedalling without a gap.
type stretch struct {
	ride             int
	metres           float64
	motor, legs      float64 // J at the wheel by the profile's numbers
	bearings         float64 // J
	kinetic, climb   float64 // J a kilogram
	weightedDistance float64 // m/s² m: gravity times distance
	steeper          float64 // m/s by which the bike climbs faster at the end than at the start
	height           float64 // m, doubt of the climb
	seconds          []airSecond
}

// airSecond is what air drag needs of one second.
type airSecond struct{ speed, east, north, halfDensity float64 }

// Places of the parameters; two for the wind of each ride follow.
const (
	cda = iota
	crr
	mass // over the profile's
	motorScale
	legsScale
	altimeterLag // s
	dragShared
)

func fitDrag(rides []Read, p *bike.Profile) (d DragFit, err error) {
	stretches, seconds := pedalledStretches(rides)
	if seconds < leastDragSeconds {
		return d, refuse("%d s of steady pedalling with known motor power and altitude are too few, %d are needed", seconds, leastDragSeconds)
	}
	m := p.Mass.Total()
	massDoubt := math.Sqrt(math.Pow(hold(p, "mass.bike_kg", p.Mass.BikeKg), 2)+math.Pow(hold(p, "mass.rider_kg", p.Mass.RiderKg), 2)+
		math.Pow(hold(p, "mass.load_kg", p.Mass.LoadKg), 2)) / m
	meters := math.Sqrt(math.Pow(tolerance(p, "sensors.battery_volts_factor"), 2)+math.Pow(tolerance(p, "sensors.battery_amps_factor"), 2)+
		math.Pow(tolerance(p, "reduction_efficiency"), 2)) / z90
	f := fit{
		mean:    []float64{p.Road.CdA, p.Road.Crr, 1, 1, 1, usualLag},
		sigma:   []float64{hold(p, "road.cda_m2", p.Road.CdA), hold(p, "road.crr", p.Road.Crr), massDoubt, meters, hold(p, "sensors.rider_power_factor", 1), usualLag},
		step:    []float64{1e-3, 1e-5, 1e-4, 1e-4, 1e-4, 0.01},
		count:   len(stretches),
		follows: func(k int) bool { return stretches[k].ride == stretches[k-1].ride },
	}
	for range rides {
		f.mean, f.sigma, f.step = append(f.mean, 0, 0), append(f.sigma, windPrior, windPrior), append(f.step, 0.01, 0.01)
	}
	f.residuals = func(theta, out []float64) {
		for i := range stretches {
			out[i] = stretches[i].left(theta, m)
		}
	}
	s, ok := f.solve()
	if !ok || !(s.theta[cda] > 0) || !(s.theta[crr] > 0) {
		return d, refuse("power at the wheel does not follow speed")
	}
	// Load at 25 km/h in standard air is linear in CdA and Crr.
	const v = 25 / 3.6
	air, rolling := 1.225/2*v*v*v, m*9.80665*v
	load := air*s.theta[cda] + rolling*s.theta[crr]
	variance := air*air*s.cov.At(cda, cda) + 2*air*rolling*s.cov.At(cda, crr) + rolling*rolling*s.cov.At(crr, crr)
	before := math.Hypot(air*f.sigma[cda], rolling*f.sigma[crr])
	if after := math.Sqrt(variance); after > leastNews*before {
		return d, refuse("the load at 25 km/h would be known to ± %.0f %%, and the profile has it to ± %.0f %%", 100*z90*after/load, 100*z90*before/load)
	}
	split := splitDoubt * load
	d.CdA = around(s.theta[cda], math.Hypot(z90*s.sigma(cda), split/air))
	d.Crr = around(s.theta[crr], math.Hypot(z90*s.sigma(crr), split/rolling))
	d.LoadAt25 = around(load, math.Hypot(z90*math.Sqrt(variance), roadDoubt*load))
	d.Seconds = seconds
	for k := range rides {
		at := dragShared + 2*k
		d.Winds = append(d.Winds, Wind{around(s.theta[at], z90*s.sigma(at)), around(s.theta[at+1], z90*s.sigma(at+1))})
	}
	return d, nil
}

// left is what the parameters leave unexplained, as a force in units of what a
// stretch may be off by: the altimeter at its ends, and a surface and a shelter
// that change every few hundred metres.
func (x *stretch) left(theta []float64, m float64) float64 {
	windEast, windNorth := theta[dragShared+2*x.ride], theta[dragShared+2*x.ride+1]
	air := 0.0
	for _, s := range x.seconds {
		// Air moves past at the bike's own speed less the wind's.
		ahead := s.speed - windEast*s.east - windNorth*s.north
		beside := windEast*s.north - windNorth*s.east
		air += s.halfDensity * math.Hypot(ahead, beside) * ahead * s.speed
	}
	massNow := m * theta[mass]
	joules := x.motor*theta[motorScale] + x.legs*theta[legsScale] - x.bearings -
		massNow*(x.kinetic+x.climb+gravity*x.steeper*theta[altimeterLag]) - theta[cda]*air - theta[crr]*massNow*x.weightedDistance
	return joules / x.metres / math.Hypot(surfaceN*math.Sqrt(surfaceM/x.metres), m*9.8*x.height/x.metres)
}

// pedalledStretches cuts the rides into stretches that tell.
func pedalledStretches(rides []Read) (all []stretch, seconds int) {
	for k, rd := range rides {
		d, r := rd.Drive, rd.Road
		cadence := rd.Ride.Column(ride.CadenceRPM)
		if cadence == nil || d.Knowledge == drive.FromRoad {
			continue
		}
		pushes := func(i int) bool {
			return r.Moving[i] && cadence[i] >= 20 && d.Legs[i] > 20 &&
				!math.IsNaN(d.Delivered[i]+d.LegsChain[i]+r.Altitude[i]+r.Speed[i])
		}
		for from := 0; from < len(cadence); {
			if !pushes(from) {
				from++
				continue
			}
			to := from + 1
			for to < len(cadence) && to-from < longestStretch && pushes(to) {
				to++
			}
			// The first and last seconds hold part of a start, a stop or a brake.
			if to-from >= shortestStretch+2 {
				all = append(all, newStretch(rd, k, from+1, to-1))
				seconds += to - from - 2
			}
			from = to
		}
	}
	return all, seconds
}

// newStretch sums seconds [from, to).
func newStretch(rd Read, k, from, to int) stretch {
	d, r := rd.Drive, rd.Road
	x := stretch{ride: k}
	lag := int(math.Round(rd.Gears.LagSeconds))
	at := func(i int) float64 { // speed in the middle between two seconds, when it was, not when it was logged
		i = max(1, min(i+lag, len(r.Speed)-1))
		v := (r.Speed[i-1] + r.Speed[i]) / 2
		if math.IsNaN(v) {
			return r.Speed[i-lag]
		}
		return v
	}
	// As logged: the smoothed road is too flat over crests, where stretches end.
	altitude := rd.Ride.Column(ride.Altitude)
	height := func(i int) float64 {
		sum, n := 0.0, 0.0
		for k := max(0, i-2); k < min(i+2, len(altitude)); k++ {
			if !math.IsNaN(altitude[k]) {
				sum, n = sum+altitude[k], n+1
			}
		}
		return sum / n
	}
	end := min(to, len(r.Speed)-1)
	x.kinetic = (at(end)*at(end) - at(from)*at(from)) / 2 * (1 + wheelShare)
	x.climb = gravity * (height(end) - height(from))
	x.steeper = r.Grade[end]*at(end) - r.Grade[from]*at(from)
	x.height = math.Sqrt2 * max(0.1, 0.5*r.AltitudeSigma)
	for i := from; i < end; i++ {
		v := r.Speed[i]
		x.metres += v
		x.motor += d.Delivered[i]
		x.legs += d.Legs[i] - d.LegsChain[i]
		x.bearings += r.Bearings[i]
		x.weightedDistance += gravity * v / math.Sqrt(1+r.Grade[i]*r.Grade[i])
		s := airSecond{speed: v, halfDensity: r.Density[i] / 2}
		s.east, s.north = heading(rd.Ride, i)
		x.seconds = append(x.seconds, s)
	}
	return x
}

// wheelShare is the wheels' rotation as a share of a laden bike's mass: 0.14 kg
// m² (Martin et al. 1998) on a radius of 0.35 m, over 100 kg.
const wheelShare = 0.011

// heading is the unit vector of the way from three seconds before to three
// after; zero where positions do not tell, so that the wind has no say.
func heading(r *ride.Ride, i int) (east, north float64) {
	lat, lon := r.Column(ride.Latitude), r.Column(ride.Longitude)
	if lat == nil || lon == nil {
		return 0, 0
	}
	a, b := max(0, i-3), min(len(lat)-1, i+3)
	east, north = ride.GroundOffset(lat[a], lon[a], lat[b], lon[b])
	length := math.Hypot(east, north)
	if !(length > 3) {
		return 0, 0
	}
	return east / length, north / length
}
