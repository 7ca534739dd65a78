package drive

import (
	"math"

	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
	"cogledger/analysis/road"
	"cogledger/ingest/ride"
)

// Alternatives asks, for every second, what the battery would have given in
// each gear of the bike at the same wheel speed, the same power at the wheel
// and the same leg power.
//
// In the gear ridden the answer is what the series already holds, because the
// motor's speed is scaled from the one that the series used. Where the gear
// ridden is unknown, wheel speed and gear give the motor's speed. Logged speed
// trails the crank by the inferred lag, which matters most in a start: the speed
// used is the one logged that much later.
func Alternatives(r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, d *Series) *Matrix {
	return new(Matrix).Fill(r, p, inf, rd, d, nil)
}

// Fill is Alternatives into a matrix that may have served before, whose room
// it uses again. It returns the matrix. Where asked is not nil, only the seconds
// in it and those that lug are filled in: the others hold what they held.
func (m *Matrix) Fill(r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, d *Series, asked []bool) *Matrix {
	all := p.Gears()
	unit := NewUnit(p).Rolling(inf.Circumference)
	links := unit.links(all)
	m.size(r.Len(), links)
	for s := range m.Seconds {
		if asked != nil && !asked[s] && d.Class[s] != Lugging {
			continue
		}
		speed := ahead(rd.Speed, s, inf.LagSeconds)
		m.speed[s] = speed
		row := s * m.Gears
		terminal, heat, limits := m.Terminal[row:row+m.Gears], m.BatteryHeat[row:row+m.Gears], m.Limits[row:row+m.Gears]
		m.scale[s] = scaleOf(inf.Index[s], links, speed, d.MotorSpeed[s])
		if !d.Class[s].Loaded() {
			for g := range terminal {
				terminal[g], heat[g], limits[g] = float32(d.Terminal[s]), float32(d.BatteryHeat[s]), NoLimit
			}
			continue
		}
		c := cell{
			unit: &unit, legs: d.pull[s], wheel: d.Delivered[s] + d.pullOut[s],
			speed: speed, motor: speed * m.scale[s],
			perMotor: 1 / (unit.Reduction * speed * m.scale[s]), perK: 1 / unit.K,
			ohm: unit.Resistance(d.Winding[s]), openCircuit: d.OpenCircuit[s],
		}
		for g := range terminal {
			t, h, limit := c.in(&links[g])
			terminal[g], heat[g], limits[g] = float32(t), float32(h), limit
		}
	}
	return m
}

// ahead is the speed logged lag seconds after s, on a straight line between two
// seconds; the one logged at s where that is unknown.
func ahead(speed []float64, s int, lag float64) float64 {
	whole := math.Floor(lag)
	first, part := s+int(whole), lag-whole
	if lag != 0 && first >= 0 && first+1 < len(speed) {
		if v := speed[first] + part*(speed[first+1]-speed[first]); !math.IsNaN(v) {
			return v
		}
	}
	return speed[s]
}

// A cell is AtWheel for one second, with what all gears share worked out once:
// a ride asks a quarter of a million of them.
type cell struct {
	unit         *Unit
	legs, wheel  float64 // W
	speed, motor float64 // m/s of the bike, as it is and as the motor's speed is counted from
	perMotor     float64 // 1 over that of the motor and the reduction's efficiency
	perK         float64
	ohm          float64 // of the winding
	openCircuit  float64
}

// in returns what the battery would have given in a gear.
func (c *cell) in(l *link) (terminal, heat float64, limit Limit) {
	u := c.unit
	need := 0.0
	if u.hub {
		chain := l.at(c.speed)
		need = c.wheel - chain.through(c.legs)
	} else if c.wheel > 0 {
		need = l.in(c.wheel, c.speed) - c.legs
	}
	w := c.motor * l.motorSpeed
	terminal = u.Fixed
	var amps float64
	if need > 0 && w > 0 {
		amps = (need*c.perMotor*l.perMotorSpeed + u.Coulomb + u.Viscous*w) * c.perK
		terminal += amps * (u.K*w + u.Volt + (c.ohm+u.Ohm)*amps)
	}
	batteryAmps, batteryVolts := u.battery(terminal, c.openCircuit)
	heat = batteryAmps * (c.openCircuit - batteryVolts)
	return terminal, heat, u.limit(amps, u.K*w+amps*c.ohm, batteryVolts, batteryAmps)
}

// scaleOf compares the motor's speed with the one that wheel and gear tell.
// They differ by the whole numbers of cadence and rpm and while speed trails a
// shift; beyond a fifth the gear is not the one ridden and the wheel decides.
func scaleOf(gear int, links []link, speed, motorSpeed float64) float64 {
	if gear < 0 {
		return 1
	}
	scale := motorSpeed / (speed * links[gear].motorSpeed)
	if math.Abs(scale-1) < 0.2 {
		return scale
	}
	return 1
}

// size makes room for a ride where there is not enough already.
func (m *Matrix) size(seconds int, links []link) {
	gears := len(links)
	m.Seconds, m.Gears = seconds, gears
	m.Terminal = room(m.Terminal, seconds*gears)
	m.BatteryHeat = room(m.BatteryHeat, seconds*gears)
	m.Limits = room(m.Limits, seconds*gears)
	m.speed, m.scale = room(m.speed, seconds), room(m.scale, seconds)
	m.speedPerMPS, m.cadencePerMS = room(m.speedPerMPS, gears), room(m.cadencePerMS, gears)
	for g, l := range links {
		m.speedPerMPS[g], m.cadencePerMS[g] = l.motorSpeed, l.cadence
	}
}

func room[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}
