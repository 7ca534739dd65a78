package ride_test

import (
	"math"
	"testing"

	"cogledger/ingest/ride"

	"github.com/tidwall/geodesic"
	"pgregory.net/rapid"
)

func dms(d, m, s float64) float64 { return math.Copysign(math.Abs(d)+m/60+s/3600, d) }

func TestGroundDistanceAgainstPublishedLines(t *testing.T) {
	tests := []struct {
		source                 string
		lat1, lon1, lat2, lon2 float64
		metres, tolerance      float64
	}{
		{"Karney, Test set for geodesics (GeodTest), Zenodo 32156", 19.707097385334, 0, 19.707739582810257, 0.000260256428101053, 76.1478894, 1e-6},
		{"Karney, GeodTest", 23.104245923137, 0, 23.103520430280492, 0.002305237470119087, 249.4508219, 1e-5},
		{"Karney, GeodTest", 78.10174623178, 0, 78.099711031638792, 0.014156770744057927, 397.364659, 1e-4},
		// Far beyond a ride's steps: the patch is no longer flat, and the
		// stated half metre is what is left.
		{"Vincenty 1975; Geoscience Australia, Flinders Peak to Buninyong", dms(-37, 57, 3.72030), dms(144, 25, 29.52440), dms(-37, 39, 10.15610), dms(143, 55, 35.38390), 54972.271, 0.5},
	}
	for _, tt := range tests {
		got := ride.GroundDistance(tt.lat1, tt.lon1, tt.lat2, tt.lon2)
		t.Logf("%.7f m, off by %.2g m", got, got-tt.metres)
		if math.Abs(got-tt.metres) > tt.tolerance {
			t.Errorf("%s: got %.7f m, want %.7f m within %g", tt.source, got, tt.metres, tt.tolerance)
		}
	}
}

// The reference is Karney's algorithm as in github.com/tidwall/geodesic.
func TestGroundDistanceAgainstGeodesics(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat := rapid.Float64Range(-80, 80).Draw(t, "latitude")
		lon := rapid.Float64Range(-180, 180).Draw(t, "longitude")
		azimuth := rapid.Float64Range(-180, 180).Draw(t, "azimuth")
		metres := rapid.Float64Range(0.1, 1000).Draw(t, "metres")
		var lat2, lon2 float64
		geodesic.WGS84.Direct(lat, lon, azimuth, metres, &lat2, &lon2, nil)
		if got := ride.GroundDistance(lat, lon, lat2, lon2); math.Abs(got-metres) > 1e-6*metres {
			t.Fatalf("from %v, %v by %v m to %v: got %v m", lat, lon, metres, azimuth, got)
		}
	})
}

func BenchmarkGroundDistance(b *testing.B) {
	total := 0.0
	for i := range b.N {
		total += ride.GroundDistance(47.1, 8.2, 47.1+float64(i&7)*1e-5, 8.2001)
	}
	if total < 0 {
		b.Fatal(total)
	}
}
