package drive

import "math"

// Bands is a table of BandAt for one battery voltage, for looking up every
// second of a ride. Between its nodes it is linear in winding temperature and
// in the square root of power, along which the band's edges run nearly
// straight; it stays within 1.5 % of BandAt in speed, and within 4 % above nine
// tenths of the strongest power, where the limits close in.
//
// Nodes are worked out when first asked for, because a ride visits few of
// them: a table serves one goroutine at a time.
type Bands struct {
	unit         Unit
	openCircuitV float64
	most         float64 // W, the strongest power in the table
	perRoot      float64 // nodes per square root of a watt
	nodes        [bandTemps][bandPowers]Band
}

const (
	bandPowers    = 65
	bandTemps     = 5
	bandCold      = -20.0 // °C
	bandHot       = 180.0
	bandPerKelvin = (bandTemps - 1) / (bandHot - bandCold)
	bandTolerance = 2e-4 // of a node's speeds
)

// NewBands prepares the unit's table for a battery voltage at rest.
func (u Unit) NewBands(openCircuitV float64) *Bands {
	b := &Bands{unit: u, openCircuitV: openCircuitV, most: max(2*loadedW, u.MostShaft(bandCold, openCircuitV))}
	b.perRoot = (bandPowers - 1) / math.Sqrt(b.most)
	return b
}

// bandsOf is NewBands, or the table of a ride before where it would be the same:
// what a wheel rolls does not matter to it.
func (s *Series) bandsOf(u *Unit, openCircuitV float64) *Bands {
	unit := *u
	unit.circumference = 0
	key := bandsKey{unit, openCircuitV}
	b := s.bands[key]
	if b == nil {
		if len(s.bands) >= mostBands || s.bands == nil {
			s.bands = make(map[bandsKey]*Bands)
		}
		b = unit.NewBands(openCircuitV)
		s.bands[key] = b
	}
	return b
}

type bandsKey struct {
	unit         Unit
	openCircuitV float64
}

// mostBands is how many tables of 10 kB are kept: a few bikes, each at some ten
// voltages.
const mostBands = 64

// At looks up the edges and the best speed in rad/s at an output power in W
// and a winding temperature in °C. Power beyond the table is read as its edge.
func (b *Bands) At(shaftW, windingC float64) (low, best, high float64) {
	x := math.Sqrt(clamp(shaftW, 0, b.most)) * b.perRoot
	p := min(int(x), bandPowers-2)
	x -= float64(p)
	y := clamp((windingC-bandCold)*bandPerKelvin, 0, bandTemps-1)
	t := min(int(y), bandTemps-2)
	y -= float64(t)
	a, c, d, e := b.node(t, p), b.node(t, p+1), b.node(t+1, p), b.node(t+1, p+1)
	wa, wc, wd, we := (1-y)*(1-x), (1-y)*x, y*(1-x), y*x
	return wa*a.Low + wc*c.Low + wd*d.Low + we*e.Low,
		wa*a.Best + wc*c.Best + wd*d.Best + we*e.Best,
		wa*a.High + wc*c.High + wd*d.High + we*e.High
}

func (b *Bands) node(temp, power int) *Band {
	n := &b.nodes[temp][power]
	if n.Best == 0 {
		root := max(float64(power), 0.5) / b.perRoot
		*n = b.unit.bandWithin(root*root, bandCold+float64(temp)/bandPerKelvin, b.openCircuitV, bandTolerance)
	}
	return n
}
