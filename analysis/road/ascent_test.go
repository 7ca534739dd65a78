package road

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A hill's height is its top less its foot, by what ascent means; an altimeter
// that wanders by centimetres climbs nothing.
func TestAscent(t *testing.T) {
	draw := rand.New(rand.NewPCG(1, 2))
	nan := math.NaN()
	flat, hill := make([]float64, 3600), make([]float64, 3600)
	for i := range flat {
		flat[i] = 400 + 0.5*math.Sin(float64(i)/40) + 0.1*draw.NormFloat64()
		hill[i] = flat[i] + 60*(1-math.Cos(2*math.Pi*float64(i)/3600))/2
	}
	tests := []struct {
		name          string
		altitude      []float64
		want, allowed float64
	}{
		{"none", nil, nan, 0},
		{"unknown", []float64{nan, nan}, nan, 0},
		{"wandering", flat, 0, 0},
		{"hill", hill, 60, 3},
		{"gap", []float64{10, nan, 30, nan, 20, 25}, 25, 0},
	}
	for _, c := range tests {
		got := (&Series{Altitude: c.altitude}).Ascent()
		if math.IsNaN(c.want) != math.IsNaN(got) || math.Abs(got-c.want) > c.allowed {
			t.Errorf("%s: %v m, want %v", c.name, got, c.want)
		}
	}
}
