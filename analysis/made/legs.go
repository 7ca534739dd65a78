package made

import "math"

type crankState uint8

const (
	still   crankState = iota
	slack              // turning, slower than the freewheel: soft pedalling
	pushing            // the chain is taut
)

// legs are the rider's legs on the crank.
type legs struct {
	state  crankState
	target float64 // W asked for
	angle  float64 // rad
	loose  float64 // crank speed in slack as a share of the speed at which it would catch
	felt   float64 // N m behind the torque sensor's filter
}

const (
	pulse     = 0.55 // swing of the torque over half a turn, relative to its mean
	feltUpS   = 0.35 // time constants of the torque sensor's filter
	feltDownS = 0.15
	fadeRPM   = 104.0 // cadence above which legs give less and less
	fadeOver  = 18.0  // rpm more until they give nothing
)

// pedal gives the torque at the crank in this step, N m.
func (l *legs) pedal(s *sim) float64 {
	torque := 0.0
	if l.state == pushing && (s.brain.shiftLeft <= 0 || s.brain.loaded) {
		crank := s.v * 2 * math.Pi / s.rollout / s.gears[s.gear()].Ratio
		rpm := crank * 60 / (2 * math.Pi)
		mean := min(l.target/max(crank, 0.5), s.rider.PedalNm)
		fade := fadeRPM
		if s.rider.SpinRPM > 0 {
			fade = s.rider.SpinRPM
		}
		if rpm > fade {
			mean *= max(0, 1-(rpm-fade)/fadeOver)
		}
		if s.brain.shiftLeft > 0 {
			mean *= 0.7
		}
		torque = mean
		if !s.scenario.Ideal {
			torque *= 1 + pulse*math.Sin(2*l.angle)
		}
	}
	lag := feltUpS
	if torque < l.felt {
		lag = feltDownS
		if l.state == pushing && s.brain.shiftLeft <= 0 {
			lag = feltUpS
		}
	}
	l.felt += min(stepS/lag, 1) * (torque - l.felt)
	return torque
}

// turn moves the crank on by one step in which a taut chain would turn it at
// the given rad/s, and returns the speed it had.
func (l *legs) turn(taut float64) float64 {
	speed := 0.0
	switch l.state {
	case pushing:
		speed = taut
	case slack:
		speed = min(l.loose*taut, 9)
	}
	l.angle += speed * stepS
	if l.angle > 2*math.Pi {
		l.angle -= 2 * math.Pi
	}
	return speed
}
