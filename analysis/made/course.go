package made

import (
	"math"
	"math/rand/v2"
)

// A Leg is one straight piece of a made road.
type Leg struct {
	Length float64 // m
	Grade  float64 // rise over length of road
	Turn   float64 // degrees to the right at its start
	Rough  float64 // rolling resistance relative to smooth asphalt; 0 is 1
	Light  bool    // traffic light at its end
	Late   bool    // a rider who shifts well is to shift down late here
	Drill  *Drill  // what a rider does here who rides to a plan; nil: as is their habit
}

// A Course is a road on a grid of cellM metres.
type Course struct {
	cells  []cell
	lights []float64 // m from the start
}

type cell struct {
	slope       float64 // rise over length of road, so the sine of its angle
	east, north float64 // unit vector of travel
	x, y, z     float64 // m east, north and up at the cell's start
	rough       float64
	most        float64 // m/s that bends let a rider keep, braking in time
	late        bool
	drill       *Drill
}

const (
	cellM   = 2.0
	blendM  = 24.0 // over which grades run into one another
	bendMPS = 4.6  // through a sharp bend
)

// NewCourse lays legs end to end.
func NewCourse(legs []Leg) *Course {
	c := &Course{}
	heading := 0.6
	var slopes []float64
	for _, leg := range legs {
		heading += leg.Turn * math.Pi / 180
		north, east := math.Cos(heading), math.Sin(heading)
		for k := range int(math.Round(leg.Length / cellM)) {
			n := cell{east: east, north: north, rough: max(leg.Rough, 0), most: math.Inf(1), late: leg.Late, drill: leg.Drill}
			if n.rough == 0 {
				n.rough = 1
			}
			if k == 0 && math.Abs(leg.Turn) >= 60 {
				n.most = bendMPS
			}
			c.cells = append(c.cells, n)
			slopes = append(slopes, leg.Grade)
		}
		if leg.Light {
			c.lights = append(c.lights, float64(len(c.cells))*cellM)
		}
	}
	c.blend(slopes)
	c.limit()
	return c
}

// blend smooths the grades and sums them and the headings into positions.
func (c *Course) blend(slopes []float64) {
	half := int(blendM / cellM / 2)
	sum, held := 0.0, 0
	for i := range min(half, len(slopes)) {
		sum, held = sum+slopes[i], held+1
	}
	x, y, z := 0.0, 0.0, 3.0
	for i := range c.cells {
		if i+half < len(slopes) {
			sum, held = sum+slopes[i+half], held+1
		}
		if i-half-1 >= 0 {
			sum, held = sum-slopes[i-half-1], held-1
		}
		n := &c.cells[i]
		n.slope, n.x, n.y, n.z = sum/float64(held), x, y, z
		along := cellM * math.Sqrt(1-n.slope*n.slope)
		x, y, z = x+along*n.east, y+along*n.north, z+cellM*n.slope
	}
}

// limit spreads the speed of each bend back over the road on which to brake.
func (c *Course) limit() {
	const comfort = 0.9 // m/s²
	for i := len(c.cells) - 2; i >= 0; i-- {
		ahead := c.cells[i+1].most
		c.cells[i].most = min(c.cells[i].most, math.Sqrt(ahead*ahead+2*comfort*cellM))
	}
}

// Length in metres.
func (c *Course) Length() float64 { return float64(len(c.cells)) * cellM }

// Stretch cuts the road from one place to another, both in metres. From a
// place to a lower one it is ridden the other way.
func (c *Course) Stretch(from, to float64) *Course {
	a, b := c.index(min(from, to)), c.index(max(from, to))
	cut := &Course{cells: make([]cell, b-a)}
	copy(cut.cells, c.cells[a:b])
	for _, at := range c.lights {
		if along := at - float64(a)*cellM; along > 0 && along < cut.Length() {
			cut.lights = append(cut.lights, along)
		}
	}
	if from <= to {
		return cut
	}
	n := len(cut.cells)
	for i := range n / 2 {
		cut.cells[i], cut.cells[n-1-i] = cut.cells[n-1-i], cut.cells[i]
	}
	for i := range cut.cells {
		k := &cut.cells[i]
		along := cellM * math.Sqrt(1-k.slope*k.slope)
		k.x, k.y, k.z = k.x+along*k.east, k.y+along*k.north, k.z+cellM*k.slope
		k.slope, k.east, k.north = -k.slope, -k.east, -k.north
		if k.most > bendMPS {
			k.most = math.Inf(1)
		}
	}
	cut.limit()
	for i, j := 0, len(cut.lights)-1; i < j; i, j = i+1, j-1 {
		cut.lights[i], cut.lights[j] = cut.lights[j], cut.lights[i]
	}
	for i := range cut.lights {
		cut.lights[i] = cut.Length() - cut.lights[i]
	}
	return cut
}

func (c *Course) index(at float64) int { return min(max(int(at/cellM), 0), len(c.cells)) }

func (c *Course) at(x float64) *cell { return &c.cells[min(max(int(x/cellM), 0), len(c.cells)-1)] }

// height is the altitude at x.
func (c *Course) height(x float64) float64 {
	i := min(max(int(x/cellM), 0), len(c.cells)-1)
	return c.cells[i].z + (x-float64(i)*cellM)*c.cells[i].slope
}

// CoastRoad is the one long road on which the made rides of a week lie: a
// harbour town that does not exist, with quays, bridges, an old town, a hill, a
// dike and a steep lane, some 28 km of it. It is always the same road, so that
// a hill comes back in many rides.
func CoastRoad() *Course {
	draw := rand.New(rand.NewPCG(0x68617262, 0x6f7572))
	var legs []Leg
	level := 0.0 // m that the legs so far have climbed
	add := func(l Leg) { legs, level = append(legs, l), level+l.Length*l.Grade }
	side := func() float64 { return 70 * float64(1-2*draw.IntN(2)) }
	avenue := func(n int) {
		for i := range n {
			grade := 0.004 + 0.012*draw.Float64()
			if level > 10 || level > 2 && i%2 == 1 {
				grade = -grade
			}
			add(Leg{Length: 180 + 160*draw.Float64(), Grade: grade, Turn: 24 * (draw.Float64() - 0.5), Light: i%2 == 0})
		}
	}
	bridge := func() {
		add(Leg{Length: 140, Grade: 0.06, Turn: 15})
		add(Leg{Length: 60})
		add(Leg{Length: 140, Grade: -0.06, Light: true})
	}
	oldTown := func() {
		for i := range 9 {
			turn := side()
			if i%3 == 0 {
				turn /= 4
			}
			add(Leg{Length: 70 + 80*draw.Float64(), Grade: 0.02 * (draw.Float64() - 0.5), Turn: turn, Rough: 1.45, Light: i%4 == 3})
		}
	}
	hill := func() {
		add(Leg{Length: 450, Grade: 0.045, Turn: 20})
		add(Leg{Length: 300, Grade: 0.075, Turn: -35})
		add(Leg{Length: 250, Grade: 0.055, Turn: 30})
		add(Leg{Length: 220})
		add(Leg{Length: 500, Grade: -0.06, Turn: 40})
		add(Leg{Length: 450, Grade: -0.053, Turn: -30, Light: true})
	}
	dike := func() {
		add(Leg{Length: 64, Grade: 0.085, Turn: 65})
		add(Leg{Length: 900, Turn: 8})
		add(Leg{Length: 700, Turn: -12})
		add(Leg{Length: 64, Grade: -0.085, Turn: -65})
	}
	steepLane := func() {
		add(Leg{Length: 120, Grade: 0.06})
		add(Leg{Length: 260, Grade: 0.105, Turn: 25, Rough: 1.2})
		add(Leg{Length: 90, Grade: 0.02})
		add(Leg{Length: 420, Grade: -0.05, Turn: -30})
		add(Leg{Length: 300, Grade: -0.045, Light: true})
	}
	for range 2 {
		avenue(5)
		bridge()
		oldTown()
		avenue(4)
		hill()
		avenue(3)
		dike()
		bridge()
		avenue(6)
		steepLane()
		oldTown()
		avenue(5)
	}
	return NewCourse(legs)
}

// Ramps is a course with n steep bridge ramps on otherwise level road, each one
// a place for a planted late down-shift. It has no lights.
func Ramps(n int) *Course {
	legs := []Leg{{Length: 400}}
	for i := range n {
		turn := 14 * float64(i%5-2)
		legs = append(legs,
			Leg{Length: 270, Grade: 0.095, Turn: turn, Late: true},
			Leg{Length: 80},
			Leg{Length: 270, Grade: -0.095},
			Leg{Length: 340, Turn: -turn / 2})
	}
	return NewCourse(legs)
}

// Climb is a steady steep climb of the given length with a level run-up.
func Climb(metres, grade float64) *Course {
	return NewCourse([]Leg{{Length: 300}, {Length: metres, Grade: grade, Turn: 20}, {Length: 150, Turn: -20}})
}
