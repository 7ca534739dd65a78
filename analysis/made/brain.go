package made

import "math"

// A brain decides, step by step, what the rider does: pedal, coast, brake,
// stop at lights, shift, and set the assist.
type brain struct {
	// Gears, as rungs of the ladder.
	rung, next         int
	shiftLeft          float64 // s of the shift under way
	shiftAll           float64 // s that it takes
	loaded             bool    // it is made without easing off
	lastAt             float64 // s, end of the last shift
	lowFor, highFor    float64 // s out of the rider's cadences
	lowFrom            int     // second in which the present spell of low cadence began
	delay              float64 // s after which it brings a down-shift
	lateLeft           int     // late shifts still to be planted
	onLate             bool    // on a leg marked Late
	lateUsed           bool    // the planted late shift of that leg is done
	lateNow            bool    // it is under way
	level              int     // assist
	steepFor           float64 // s on steep ground
	tallStart, steepUp int     // open planted habits' handles, 0 none

	// Going and stopping.
	braking   float64 // m/s² wanted
	toStop    float64 // m to the next place to stop at
	holding   bool    // stands
	leaveAt   float64 // s, then it goes on
	started   bool    // moving since the last stop
	done      bool
	light     int     // next one
	effort    float64 // slow swing of the rider's power around 1
	softUntil float64 // s, then soft pedalling ends
}

func (b *brain) start(s *sim) {
	b.rung = s.rungFor(3.2)
	if s.rider.StartM == 0 {
		b.rung = s.rungFor(5.6)
	}
	b.next, b.level, b.effort = b.rung, s.rider.Level, 0
	b.holding, b.leaveAt = true, 3+4*s.mood.Float64()
	b.lastAt = -10
	b.lateLeft = s.scenario.LateShifts
}

// gear is the one in use, an index into the profile's gears.
func (s *sim) gear() int { return s.ladder[s.brain.rung] }

// rungFor is the rung whose development in m is nearest.
func (s *sim) rungFor(development float64) int {
	best := 0
	for k, g := range s.ladder {
		if math.Abs(s.development(g)-development) < math.Abs(s.development(s.ladder[best])-development) {
			best = k
		}
	}
	return best
}

func (s *sim) development(gear int) float64 { return s.rollout * s.gears[gear].Ratio }

// rpm is the cadence of a taut chain on a rung.
func (s *sim) rpm(rung int) float64 { return s.v * 60 / s.development(s.ladder[rung]) }

func (b *brain) decide(s *sim, c *cell) {
	if b.holding {
		b.stand(s)
		return
	}
	b.look(s, c)
	b.push(s, c)
	b.setLevel(s, c)
	b.shift(s, c)
}

// stand waits for the lights, or for the end of the recording.
func (b *brain) stand(s *sim) {
	s.legs.state, s.legs.target = still, 0
	if s.t < b.leaveAt {
		return
	}
	if s.x >= s.course.Length()-6 {
		b.done = true
		return
	}
	b.holding, b.braking, b.started = false, 0, false
	b.highFor = 0
	s.legs.state = pushing
	if s.development(s.gear()) > tallM {
		b.tallStart = s.truth.plant(TallGearStart, s.clock(), s.gear())
	}
}

// tallM is the development above which a start counts as one in a tall gear:
// a bike of 100 kg needs twice the torque that it needs in a usual start gear.
const tallM = 4.4

// clock is the second that the present step belongs to.
func (s *sim) clock() int { return s.steps / perSecond }

// How hard the rider brakes, m/s²: for a stop seen in time, at most, and what
// rolling out is taken to bring.
const (
	easyBrake = 1.1
	hardBrake = 2.8
	rollOut   = 0.55
	sightM    = 55.0 // at which a light is seen
)

// look watches the road ahead for lights, bends, descents and the end.
func (b *brain) look(s *sim, c *cell) {
	stop := s.course.Length() - 3
	lights := s.course.lights
	for b.light < len(lights) && s.x > lights[b.light] {
		b.light++
	}
	if b.light < len(lights) {
		if dist := lights[b.light] - s.x; dist < sightM && s.red(b.light) && dist > s.v*s.v/(2*hardBrake) {
			stop = lights[b.light] - 2
		}
	}
	dist := max(stop-s.x, 0.2)
	b.braking = 0
	if s.v > math.Sqrt(2*easyBrake*dist) || dist < 0.8 {
		b.braking = min(max(s.v*s.v/(2*dist), 0.6), hardBrake)
		if s.v < 0.5 {
			b.holding = true
			if b.tallStart > 0 {
				s.truth.close(b.tallStart, s.clock(), s.gear())
				b.tallStart = 0
			}
			b.leaveAt = s.t + 0.8 + s.mood.Float64()
			if stop < s.course.Length()-10 {
				b.leaveAt += s.untilGreen(b.light)
			} else {
				b.leaveAt += 5
			}
			s.legs.state = still
		}
		return
	}
	if s.v > c.most {
		b.braking = 1
	} else if s.v > s.rider.DescentMPS {
		b.braking = 0.4
	}
	b.toStop = dist
}

// red reports whether a light is red now; each has its own cycle.
func (s *sim) red(light int) bool {
	cycle, phase := s.cycle(light)
	return math.Mod(s.t+phase, cycle) < s.scenario.RedShare*cycle
}

func (s *sim) untilGreen(light int) float64 {
	cycle, phase := s.cycle(light)
	return max(0, s.scenario.RedShare*cycle-math.Mod(s.t+phase, cycle))
}

func (s *sim) cycle(light int) (cycle, phase float64) {
	k := float64(light)
	return 48 + 9*math.Mod(k*1.7, 4), math.Mod(31*k+s.phase, 80)
}

// push sets what the legs give.
func (b *brain) push(s *sim, c *cell) {
	r := &s.rider
	if !s.scenario.Ideal && s.steps%5 == 0 {
		const swingS = 20.0
		b.effort += 0.5/swingS*-b.effort + math.Sqrt(2*0.5/swingS)*s.mood.NormFloat64()
	}
	power := r.PowerW*(1+0.13*b.effort) + r.ClimbW*max(0, c.slope)
	if c.slope < -0.015 {
		power *= max(0, 1+25*(c.slope+0.015))
	}
	power *= min(max((r.CruiseMPS+0.5-s.v)/1.0, 0), 1)
	if c.drill != nil {
		power = c.drill.power(s.v) * (1 + 0.08*b.effort)
	}
	if !b.started && s.v < 3 {
		power = max(power, r.PowerW) // the push off
	}
	if s.v > 3 {
		b.started = true
	}
	coasts := s.v > math.Sqrt(2*rollOut*b.toStop) && b.toStop < 60
	if b.braking > 0 || coasts {
		power = 0
	}
	s.legs.target = power
	was := s.legs.state
	switch {
	case power >= 22 || power > 12 && was == pushing:
		s.legs.state = pushing
	case b.shiftLeft > 0:
		s.legs.state = slack
	case was == pushing:
		s.legs.state = still
		if s.mood.Float64() < r.SoftShare && b.braking == 0 {
			s.legs.state = slack
			s.legs.loose = 0.55 + 0.4*s.mood.Float64()
			b.softUntil = s.t + 3 + 9*s.mood.Float64()
		}
	case was == slack && (s.v < 1.2 || s.t > b.softUntil):
		s.legs.state = still
	case was == slack && !s.scenario.Ideal && s.steps%5 == 0:
		s.legs.loose = min(max(s.legs.loose+0.03*s.mood.NormFloat64(), 0.4), 0.97)
	}
}

// setLevel switches to the rider's level for steep ground and back.
func (b *brain) setLevel(s *sim, c *cell) {
	r := &s.rider
	switch {
	case c.slope > 0.04:
		b.steepFor += stepS
	case c.slope < 0.02:
		b.steepFor = 0
	}
	if c.drill != nil {
		b.level = c.drill.Level
		return
	}
	level := r.Level
	if b.steepFor > 1.5 {
		level = r.SteepLevel
	}
	if level == b.level {
		return
	}
	b.level = level
	if level >= 4 && r.SteepLevel > r.Level && b.steepUp == 0 {
		b.steepUp = s.truth.plant(FullAssistSteep, s.clock(), s.gear())
	} else if b.steepUp > 0 {
		s.truth.close(b.steepUp, s.clock(), s.gear())
		b.steepUp = 0
	}
}
