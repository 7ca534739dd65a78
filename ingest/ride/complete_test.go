package ride_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"cogledger/ingest/ride"

	"github.com/tidwall/geodesic"
)

// rounds rides circles of 200 m radius at 6 m/s and writes a fix a second with
// scatter. The places come from github.com/tidwall/geodesic.
func rounds(seconds int, scatter float64) *ride.Track {
	t := &ride.Track{}
	rng := rand.New(rand.NewPCG(1, 2))
	for k := range seconds {
		t.Sample(float64(k))
		var lat, lon float64
		geodesic.WGS84.Direct(47, 8, float64(k)*6/200*180/math.Pi, 200, &lat, &lon, nil)
		t.Put(ride.Latitude, lat+rng.NormFloat64()*scatter/111_000)
		t.Put(ride.Longitude, lon+rng.NormFloat64()*scatter/76_000)
	}
	return t
}

func TestSpeedFromPositions(t *testing.T) {
	r := mustRide(t, rounds(600, 0.4))
	if r.Origin(ride.Speed) != ride.FromPositions || r.Marks(ride.Speed)[300] != ride.Derived {
		t.Errorf("speed is %v, marked %v", r.Origin(ride.Speed), r.Marks(ride.Speed)[300])
	}
	sum, squares := 0.0, 0.0
	for _, v := range r.Column(ride.Speed)[5:595] {
		sum += v - 6
		squares += (v - 6) * (v - 6)
	}
	// Seven fixes of scatter s make a slope of scatter s/sqrt(28).
	if mean, spread := sum/590, math.Sqrt(squares/590); math.Abs(mean) > 0.02 || spread > 1.3*0.4/math.Sqrt(28) {
		t.Errorf("speed is off by %.3f m/s, scatter %.3f m/s", mean, spread)
	}
}

func TestDistanceFromPositions(t *testing.T) {
	r := mustRide(t, rounds(600, 0))
	d := r.Column(ride.Distance)
	if got := d[599] - d[0]; math.Abs(got-599*6) > 0.5 {
		t.Errorf("got %.2f m, want %.0f", got, 599*6.0)
	}
	if r.Origin(ride.Distance) != ride.FromPositions {
		t.Errorf("origin %v", r.Origin(ride.Distance))
	}
}

func TestSpeedFromDistance(t *testing.T) {
	counted := &ride.Track{}
	for k := range 600 {
		counted.Sample(float64(k))
		counted.Put(ride.Distance, math.Floor(6.3*float64(k))) // whole metres
	}
	r := mustRide(t, counted)
	if r.Origin(ride.Speed) != ride.FromDistance {
		t.Fatalf("origin %v", r.Origin(ride.Speed))
	}
	for k, v := range r.Column(ride.Speed) {
		if math.Abs(v-6.3) > 0.75 {
			t.Errorf("second %d: %v m/s", k, v)
		}
	}
}

func TestDeadSpeedSensor(t *testing.T) {
	in := rounds(200, 0.2)
	in.Origins[ride.Speed] = ride.WheelSensor
	in.Values[ride.Speed] = make([]float64, 200)
	for k := range 200 {
		if k < 100 || k >= 140 {
			in.Values[ride.Speed][k] = 6
		}
	}
	r := mustRide(t, in)
	for k := 105; k < 135; k++ {
		if v := r.At(ride.Speed, k); math.Abs(v-6) > 0.5 || r.Marks(ride.Speed)[k] != ride.Derived {
			t.Fatalf("second %d: %v m/s marked %v", k, v, r.Marks(ride.Speed)[k])
		}
	}
	if !noted(r.Notes, "second 100: speed stands at 0 for 40 seconds") {
		t.Errorf("notes %v", r.Notes)
	}
	// A bike that stands is left standing, however the fixes scatter.
	still := &ride.Track{}
	rng := rand.New(rand.NewPCG(8, 9))
	for k := range 200 {
		still.Sample(float64(k))
		still.Put(ride.Speed, 0)
		still.Put(ride.Latitude, 47+rng.NormFloat64()*3/111_000)
		still.Put(ride.Longitude, 8)
	}
	if r := mustRide(t, still); r.At(ride.Speed, 100) != 0 || noted(r.Notes, "stands at 0") {
		t.Errorf("%v m/s, notes %v", r.At(ride.Speed, 100), r.Notes)
	}
}

func TestDistanceFromSpeed(t *testing.T) {
	in := rounds(100, 0)
	in.Origins[ride.Speed] = ride.WheelSensor
	in.Values[ride.Speed] = make([]float64, 100)
	for k := range 100 {
		in.Values[ride.Speed][k] = 5
	}
	r := mustRide(t, in)
	if r.Origin(ride.Distance) != ride.FromSpeed || r.At(ride.Distance, 99) != 99*5 {
		t.Errorf("%v, %v m", r.Origin(ride.Distance), r.At(ride.Distance, 99))
	}
	if r.Origin(ride.Speed) != ride.WheelSensor || r.Marks(ride.Speed)[0] != ride.Measured {
		t.Errorf("the logged speed was replaced")
	}
}

func TestDistanceCounterBeginsAnew(t *testing.T) {
	r := mustRide(t, track(ride.Distance, []float64{0, 1, 2, 3, 4}, []float64{100, 105, 0, 6, 12}))
	want := []float64{100, 105, 105, 111, 117}
	for k, v := range r.Column(ride.Distance) {
		if v != want[k] {
			t.Errorf("second %d: %v m, want %v", k, v, want[k])
		}
	}
}

func TestPositionJumps(t *testing.T) {
	tests := []struct {
		reason string
		spoil  func(lat, lon []float64)
		gone   int // fixes that must be dropped and bridged
	}{
		{"nothing wrong", func(_, _ []float64) {}, 0},
		{"one fix a kilometre off", func(lat, _ []float64) { lat[50] += 0.01 }, 1},
		{"the first fix is stale", func(lat, _ []float64) { lat[0] -= 1 }, 1},
		{"the last fix is off", func(_, lon []float64) { lon[199] -= 1 }, 1},
		{"five fixes elsewhere", func(lat, _ []float64) {
			for k := 60; k < 65; k++ {
				lat[k] += 0.02
			}
		}, 5},
		{"two fixes at two wrong places", func(lat, _ []float64) { lat[50] += 0.01; lat[51] -= 0.03 }, 2},
		{"no fix, written as 0, 0", func(lat, lon []float64) { lat[70], lon[70] = 0, 0 }, 1},
		{"half a fix", func(lat, _ []float64) { lat[70] = math.NaN() }, 1},
		{"a receiver that finds its place after a minute", func(lat, _ []float64) {
			for k := range 60 {
				lat[k] += 0.02
			}
		}, 0},
	}
	for _, tt := range tests {
		in := rounds(200, 0)
		tt.spoil(in.Values[ride.Latitude], in.Values[ride.Longitude])
		r := mustRide(t, in)
		gone := 0
		for k, m := range r.Marks(ride.Latitude) {
			if m != ride.Measured {
				gone++
			}
			if m != r.Marks(ride.Longitude)[k] {
				t.Errorf("%s: second %d has half a position", tt.reason, k)
			}
		}
		if gone != tt.gone {
			t.Errorf("%s: %d fixes dropped, want %d", tt.reason, gone, tt.gone)
		}
	}
}

func TestAntimeridian(t *testing.T) {
	in := &ride.Track{}
	for k, lon := range []float64{179.9998, 179.9999, -180, math.NaN(), -179.9998} {
		in.Sample(float64(k))
		in.Put(ride.Latitude, 0)
		in.Put(ride.Longitude, lon)
	}
	r := mustRide(t, in)
	if got := r.At(ride.Longitude, 3); math.Abs(got+179.9999) > 1e-9 {
		t.Errorf("between -180 and -179.9998: %v", got)
	}
	// 0.0001 degrees of the equator are 11.132 m (WGS 84).
	if got := r.At(ride.Distance, 4); math.Abs(got-4*11.1319) > 0.001 {
		t.Errorf("distance %v", got)
	}
}

func BenchmarkRide(b *testing.B) {
	in := rounds(10_000, 0.4)
	for c := range ride.ChannelCount {
		if in.Values[c] == nil {
			in.Values[c] = make([]float64, 10_000)
			for k := range in.Values[c] {
				in.Values[c][k] = float64(2 + k%50/10)
			}
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := in.Ride(); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/10_000, "ns/second")
}
