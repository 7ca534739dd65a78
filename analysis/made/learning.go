package made

import (
	"fmt"
	"math"
	"math/rand/v2"

	"cogledger/analysis/bike"
)

// A Drill is what a rider who rides to a plan does on one leg of the road.
type Drill struct {
	Level  int
	RPM    float64 // cadence to keep, by shifting
	PowerW float64 // at the crank; 0: let the bike roll, without brakes
}

// power is what the rider gives at a speed: rolling ends before the bike
// wobbles.
func (d *Drill) power(speed float64) float64 {
	const slowest, push = 2.6, 90
	if d.PowerW == 0 && speed < slowest {
		return push
	}
	return d.PowerW
}

// drillSlack is how far cadence may stray from a drill's before the rider
// shifts: more than half the step from cog to cog.
const drillSlack = 0.12

// LearningRides makes rides of a rider who follows the protocol for learning a
// bike, each of half an hour on a day of its own weather: out and back along a
// level road and up and down a hill, through levels of assistance, slow and
// fast cadences, a few hard pulls, a spin to the end of the battery's voltage,
// and some coasting.
func LearningRides(p *bike.Profile, seed uint64, n int) []*Ride {
	draw := rand.New(rand.NewPCG(seed, 80))
	course := learningRoad()
	rides := make([]*Ride, n)
	for i := range rides {
		rides[i] = Simulate(p, Scenario{
			Name: fmt.Sprintf("learning ride %d (made)", i+1), Course: course,
			Start:   firstMonday().AddDate(0, 0, i),
			WindMPS: 0.5 + 2*draw.Float64(), WindFrom: 360 * draw.Float64(),
			AirC: 12 + 10*draw.Float64(), Pressure: 101325 + 900*draw.NormFloat64(),
			Charge: 0.42 + 0.18*draw.Float64(),
		}, learner(), seed+uint64(i)*0x9e3779b97f4a7c15)
	}
	return rides
}

// learner can spin, brakes late and shifts as told.
func learner() Rider {
	return Rider{
		Name: "the rider who follows a plan", PowerW: 95, PedalNm: 60, CruiseMPS: 6.6, DescentMPS: 10, SpinRPM: 132,
		LowRPM: 65, HighRPM: 80, DelayS: 0.8, Cogs: 3, StartM: 2.7, Level: 2, SteepLevel: 2,
	}
}

// learningRoad is the protocol laid out as a road.
func learningRoad() *Course {
	var legs []Leg
	ride := func(metres, grade float64, level int, rpm, watts float64) {
		legs = append(legs, Leg{Length: metres, Grade: grade, Drill: &Drill{level, rpm, watts}})
	}
	turn := func(degrees float64) { legs[len(legs)-1].Turn = degrees }
	// The level road, out and back: from assistance off to what keeps below the
	// cut-off speed, each at a slow and a fast cadence, and rolling. It bends once,
	// so that wind from any side is felt ahead somewhere.
	const slight = 0.003
	for _, grade := range []float64{slight, -slight} {
		ride(200, grade, 1, 75, 100)
		if grade < 0 {
			turn(180)
		}
		ride(300, grade, 0, 80, 130)
		ride(250, grade, 1, 50, 110)
		ride(250, grade, 1, 95, 110)
		ride(130, grade, 1, 70, 0)
		ride(250, grade, 2, 48, 75) // half of the way out and of the way back
		turn(math.Copysign(55, grade))
		ride(250, grade, 2, 95, 45)
		ride(200, grade, 1, 95, 55)
		ride(130, grade, 2, 70, 0)
		ride(300, grade, 0, 65, 150)
	}
	// The hill, again and again: two drills on the way up, rolling on the way
	// down.
	type half struct {
		level      int
		rpm, watts float64
	}
	const steep, gentle = 0.07, 0.04
	for _, up := range [][2]half{
		{{2, 50, 160}, {2, 100, 120}},
		{{3, 100, 110}, {3, 50, 140}},
		{{4, 50, 115}, {4, 100, 90}},
		{{1, 50, 170}, {3, 50, 140}},
		{{4, 50, 115}, {4, 135, 110}}, // the hard pull, and the spin
	} {
		ride(60, 0, up[0].level, up[0].rpm, up[0].watts)
		if len(legs) > 20 {
			turn(180)
		}
		ride(240, steep, up[0].level, up[0].rpm, up[0].watts)
		ride(60, steep, up[0].level, 50, 320) // as hard as it goes
		ride(300, gentle, up[1].level, up[1].rpm, up[1].watts)
		ride(30, 0, up[1].level, 80, 80)
		ride(30, 0, 1, 70, 0)
		turn(180)
		ride(300, -gentle, 1, 70, 0)
		ride(300, -steep, 1, 70, 0)
	}
	ride(60, 0, 1, 70, 0)
	return NewCourse(legs)
}
