package drive

import "math"

// Bands is a table of BandAt for one battery voltage, for looking up every
// second of a ride. Between its nodes it is linear in winding temperature and
// in the square root of power, along which the band's edges run nearly
// straight; it stays within 1.5 % of BandAt in speed, and within 4 % above nine
// tenths of the strongest power, where the limits close in.
type Bands struct {
	most        float64 // W, the strongest power in the table
	perRoot     float64 // nodes per square root of a watt
	low, high   [bandTemps][bandPowers]float64
	bestSpeed   [bandTemps][bandPowers]float64
	perKelvin   float64
	coldestNode float64
}

const (
	bandPowers = 65
	bandTemps  = 5
	bandCold   = -20.0 // °C
	bandHot    = 180.0
)

// NewBands tabulates the unit's band for a battery voltage at rest.
func (u Unit) NewBands(openCircuitV float64) *Bands {
	b := &Bands{
		most:        max(2*loadedW, u.MostShaft(bandCold, openCircuitV)),
		perKelvin:   (bandTemps - 1) / (bandHot - bandCold),
		coldestNode: bandCold,
	}
	b.perRoot = (bandPowers - 1) / math.Sqrt(b.most)
	for t := range bandTemps {
		for p := range bandPowers {
			root := max(float64(p), 0.5) / b.perRoot
			band := u.bandWithin(root*root, bandCold+float64(t)/b.perKelvin, openCircuitV, 2e-4)
			b.low[t][p], b.bestSpeed[t][p], b.high[t][p] = band.Low, band.Best, band.High
		}
	}
	return b
}

// At looks up the edges and the best speed in rad/s at an output power in W
// and a winding temperature in °C. Power beyond the table is read as its edge.
func (b *Bands) At(shaftW, windingC float64) (low, best, high float64) {
	x := math.Sqrt(clamp(shaftW, 0, b.most)) * b.perRoot
	p := min(int(x), bandPowers-2)
	x -= float64(p)
	y := clamp((windingC-b.coldestNode)*b.perKelvin, 0, bandTemps-1)
	t := min(int(y), bandTemps-2)
	y -= float64(t)
	mix := func(of *[bandTemps][bandPowers]float64) float64 {
		cold := of[t][p] + x*(of[t][p+1]-of[t][p])
		hot := of[t+1][p] + x*(of[t+1][p+1]-of[t+1][p])
		return cold + y*(hot-cold)
	}
	return mix(&b.low), mix(&b.bestSpeed), mix(&b.high)
}
