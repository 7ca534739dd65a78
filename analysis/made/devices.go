package made

import (
	"math"
	"math/rand/v2"

	"cogledger/analysis/bike"
	"cogledger/ingest/ride"
)

// devices are the head unit and the drive's own logger: what they sense, with
// their errors, and what they write.
type devices struct {
	scenario Scenario
	noise    *rand.Rand
	head     *ride.Track
	logger   *ride.Track // nil where the head unit logs the motor too

	speedFactor             float64 // rollout set in the device over the true one
	voltsFactor, ampsFactor float64
	legsFactor, motorFactor float64
	zeroAmps                float64 // A read with nothing flowing
	delay                   int     // steps of pure lag of the logged speed
	filtered                float64
	past                    [64]float64 // filtered speeds, a ring
	at                      int
	wander                  [2]float64 // m, of the receiver
	weather                 float64    // m, of the barometer
	heightLag               float64
	distance                float64

	sum     readings // over the second
	short   readings // over the logger's interval
	started bool
}

// readings are sums over steps.
type readings struct {
	speed, cadence, legs, motor, volts, amps, omega float64
	turning                                         int // steps in which the crank turned
}

const (
	speedFilterS = 0.5
	loggerSteps  = perSecond / 5
	loggerFromS  = 4 // the drive is switched on after the head unit
)

func newDevices(p *bike.Profile, sc Scenario, seconds int, rollout float64, noise *rand.Rand) *devices {
	d := &devices{
		scenario: sc, noise: noise,
		speedFactor: p.Circumference() / rollout,
		voltsFactor: 1 / factor(p.Sensors.BatteryVolts), ampsFactor: 1 / factor(p.Sensors.BatteryAmps),
		legsFactor: 1 / factor(p.Sensors.RiderPower), motorFactor: 1 / factor(p.Sensors.MotorPower),
	}
	if !sc.Ideal {
		d.speedFactor *= 1 + 0.003*noise.NormFloat64()
		d.voltsFactor *= 1 + 0.001*noise.NormFloat64()
		d.ampsFactor *= 1 + 0.0025*noise.NormFloat64()
		d.legsFactor *= 1 + 0.01*noise.NormFloat64()
		d.motorFactor *= 1 + 0.01*noise.NormFloat64()
		d.zeroAmps = 0.004 * noise.NormFloat64()
		d.delay = 4 + noise.IntN(16)
		d.weather = 2 * noise.NormFloat64()
	}
	d.head = newTrack(sc, "FIT", "made head unit", seconds)
	if sc.Logger {
		d.logger = newTrack(sc, "CSV", "made drive logger", seconds*perSecond/loggerSteps)
	}
	return d
}

// factor of a sensor; a profile built without defaults has 0 for "as logged".
func factor(f float64) float64 {
	if f == 0 {
		return 1
	}
	return f
}

func newTrack(sc Scenario, format, device string, samples int) *ride.Track {
	t := &ride.Track{
		Name: sc.Name, Epoch: sc.Start,
		Sources: []ride.Source{{Format: format, Device: device, Made: true}},
		Time:    make([]float64, 0, samples),
	}
	t.Origins[ride.Speed] = ride.WheelSensor
	t.Origins[ride.Distance] = ride.WheelSensor
	return t
}

func (d *devices) tracks() []*ride.Track {
	if d.logger == nil {
		return []*ride.Track{d.head}
	}
	return []*ride.Track{d.head, d.logger}
}

// step senses one step, k of perSecond, and writes what falls due.
func (d *devices) step(s *sim, k int) {
	n := &s.now
	if d.scenario.Ideal {
		d.filtered = n.v
	} else {
		d.filtered += stepS / speedFilterS * (n.v - d.filtered)
	}
	d.at = (d.at + 1) % len(d.past)
	d.past[d.at] = d.filtered
	r := readings{
		speed: d.past[(d.at-d.delay+len(d.past))%len(d.past)], cadence: n.cadence, legs: n.legs,
		motor: n.book[Chain] + n.book[Delivered],
		volts: n.battery.volts, amps: n.battery.amps, omega: n.omega,
	}
	if n.cadence > 0.6 {
		r.turning = 1
	}
	d.sum.add(r)
	if d.logger != nil {
		d.short.add(r)
		if (k+1)%loggerSteps == 0 {
			d.logDrive(s)
		}
	}
	if k == 0 {
		d.place(s)
	}
	if k == perSecond-1 {
		d.logHead(s)
	}
}

func (a *readings) add(b readings) {
	a.speed += b.speed
	a.cadence += b.cadence
	a.legs += b.legs
	a.motor += b.motor
	a.volts += b.volts
	a.amps += b.amps
	a.omega += b.omega
	a.turning += b.turning
}

// place samples what the head unit takes once a second, at the second's start.
func (d *devices) place(s *sim) {
	c := s.course.at(s.now.x)
	into := s.now.x - math.Floor(s.now.x/cellM)*cellM
	x, y, z := c.x+into*c.east, c.y+into*c.north, s.now.altitude
	temperature := d.scenario.AirC
	if !d.scenario.Ideal {
		for i := range d.wander {
			d.wander[i] += -d.wander[i]/40 + 2.0*math.Sqrt(2.0/40)*d.noise.NormFloat64()*0.7
		}
		x, y = x+d.wander[0], y+d.wander[1]
		d.weather += 0.008 * d.noise.NormFloat64()
		if !d.started {
			d.heightLag = z
		}
		d.heightLag += 0.6 * (z - d.heightLag)
		z = d.heightLag + d.weather + 0.08*d.noise.NormFloat64()
		temperature += 1.2 - 1.2*math.Exp(-s.t/400)
	}
	d.started = true
	lat, lon := degrees(x, y)
	d.head.Sample(float64(len(d.head.Time)))
	d.head.Put(ride.Latitude, lat)
	d.head.Put(ride.Longitude, lon)
	d.head.Put(ride.Altitude, quantised(z, 0.2))
	d.head.Put(ride.AirTemp, math.Round(temperature))
}

// logHead writes the head unit's means over the second.
func (d *devices) logHead(s *sim) {
	r := d.sum
	d.sum = readings{}
	t := d.head
	speed := quantised(max(0, r.speed/perSecond*d.speedFactor), 0.001)
	d.distance += speed
	t.Put(ride.Speed, speed)
	t.Put(ride.Distance, quantised(d.distance, 0.01))
	t.Put(ride.CadenceRPM, d.cadence(r, perSecond))
	watts := r.legs / perSecond * d.legsFactor
	if !d.scenario.Ideal {
		watts *= 1 + 0.015*d.noise.NormFloat64()
	}
	t.Put(ride.RiderPower, math.Round(watts))
	switch {
	case d.logger != nil, d.scenario.Told == ToldNothing:
	case d.scenario.Told == ToldPower:
		t.Put(ride.MotorPower, math.Round(r.motor/perSecond*d.motorFactor))
	default:
		d.putDrive(t, s, r, perSecond)
	}
}

// cadence is the whole turns a minute of the steps in which the crank turned;
// a sensor that hears from it for less than half the time shows 0.
func (d *devices) cadence(r readings, steps int) float64 {
	if 2*r.turning < steps {
		return 0
	}
	rpm := r.cadence / float64(r.turning) * 60 / (2 * math.Pi)
	if !d.scenario.Ideal {
		rpm += 0.15 * d.noise.NormFloat64()
	}
	return math.Round(rpm)
}

// putDrive writes what the drive tells of itself.
func (d *devices) putDrive(t *ride.Track, s *sim, r readings, steps int) {
	n := float64(steps)
	volts, amps, rpm := r.volts/n*d.voltsFactor, r.amps/n*d.ampsFactor+d.zeroAmps, r.omega/n*60/(2*math.Pi)
	if !d.scenario.Ideal {
		volts += 0.02 * d.noise.NormFloat64()
		amps += 0.03 * d.noise.NormFloat64()
		if rpm > 0 {
			rpm = max(0, rpm+3*d.noise.NormFloat64())
		}
	}
	t.Put(ride.BatteryVolts, quantised(volts, 0.01))
	t.Put(ride.BatteryAmps, quantised(amps, 0.01))
	t.Put(ride.BatteryCharge, math.Round(100*s.battery.charge))
	t.Put(ride.MotorRPM, math.Round(rpm))
	t.Put(ride.MotorTemp, math.Round(s.furnace.housing+0.35*(s.furnace.winding-s.furnace.housing)))
	t.Put(ride.AssistLevel, float64(s.brain.level))
}

// logDrive writes one sample of the drive's own logger, on its own clock. Both
// devices stamp a sample with the middle of what it is a mean of; the head
// unit's clock is 0 in the middle of its first second.
func (d *devices) logDrive(s *sim) {
	r := d.short
	d.short = readings{}
	middle := s.t - stepS*loggerSteps/2
	if middle < loggerFromS {
		return
	}
	t := d.logger
	t.Sample(quantised((middle-0.5)*(1+LoggerDrift)+LoggerOffsetS, 0.001))
	t.Put(ride.Speed, quantised(max(0, r.speed/loggerSteps*d.speedFactor), 0.01/3.6))
	t.Put(ride.CadenceRPM, d.cadence(r, loggerSteps))
	d.putDrive(t, s, r, loggerSteps)
}

func quantised(v, unit float64) float64 { return math.Round(v/unit) * unit }

// degrees places a point east and north of the made road's start, which lies in
// open sea: no one's street. The metres for a degree are those of the WGS 84
// ellipsoid at that latitude.
func degrees(east, north float64) (lat, lon float64) {
	const (
		lat0, lon0        = 54.86, 7.6
		northPer, eastPer = 111308.4, 64212.3
	)
	const semicircle = 180.0 / (1 << 31)
	return quantised(lat0+north/northPer, semicircle), quantised(lon0+east/eastPer, semicircle)
}
