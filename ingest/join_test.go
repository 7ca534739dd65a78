package ingest_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"cogledger/ingest"
	"cogledger/ingest/ride"
)

// recorded opens the long rides of the FIT decoders' modules.
func recorded(t testing.TB) []*ride.Ride {
	t.Helper()
	tormoder, muktihari := module(t, "github.com/tormoder/fit"), module(t, "github.com/muktihari/fit")
	paths := []string{
		filepath.Join(tormoder, "testdata/bpg/garmin.fit"),
		filepath.Join(tormoder, "testdata/dcrainmaker/Edge810-Vector-2013-08-16-15-35-10.fit"),
		filepath.Join(tormoder, "testdata/python-fitparse/garmin-edge-500-activitiy.fit"),
		filepath.Join(muktihari, "testdata/from_official_sdk/WithGearChangeData.fit"),
	}
	if dir := os.Getenv("COGLEDGER_RIDES"); dir != "" {
		more, err := filepath.Glob(filepath.Join(dir, "*.fit"))
		if err != nil {
			t.Fatal(err)
		}
		paths = append(paths, more...)
	}
	var rides []*ride.Ride
	for _, path := range paths {
		tracks, err := ingest.Open(path, ingest.Options{})
		if err != nil {
			t.Fatal(err)
		}
		r, err := tracks[0].Ride()
		if err != nil {
			t.Fatal(err)
		}
		rides = append(rides, r)
	}
	return rides
}

// headUnit is a ride's speed and cadence as its own log.
func headUnit(r *ride.Ride, from, to int) *ride.Track {
	t := &ride.Track{Epoch: r.Start.Add(time.Duration(from) * time.Second), Sources: []ride.Source{{File: "head.fit"}}}
	for k := from; k < min(to, r.Len()); k++ {
		if !r.Paused(k) {
			t.Sample(float64(k - from))
			t.Put(ride.Speed, r.At(ride.Speed, k))
			t.Put(ride.CadenceRPM, r.At(ride.CadenceRPM, k))
		}
	}
	return t
}

// driveLogger is the same ride as another device logs it: from some second to
// another, at its own rate, on a clock that is off and drifts, with noise of
// its own, and rounded to 0.1 km/h.
type driveLogger struct {
	from, to float64 // s of the ride
	every    float64 // s
	drift    float64 // of its clock, ppm as a report has it
	noise    float64 // m/s
	only     ride.Channel
	seed     uint64
}

func (d driveLogger) log(r *ride.Ride) *ride.Track {
	rng := rand.New(rand.NewPCG(d.seed, 7))
	t := &ride.Track{Sources: []ride.Source{{File: "drive.csv"}}}
	for s := 0.0; ; s += d.every { // on the logger's clock
		at := d.from + s*(1+d.drift*1e-6)
		k := int(at)
		if at > d.to || k+1 >= r.Len() {
			return t
		}
		if r.Paused(k) || r.Paused(k+1) {
			continue
		}
		between := func(c ride.Channel) float64 {
			return r.At(c, k) + (at-float64(k))*(r.At(c, k+1)-r.At(c, k))
		}
		t.Sample(s)
		if d.only == ride.Speed {
			t.Put(ride.Speed, max(0, math.Round((between(ride.Speed)*1.01+d.noise*rng.NormFloat64())*36)/36))
		} else {
			t.Put(ride.CadenceRPM, math.Round(between(ride.CadenceRPM)))
		}
		t.Put(ride.BatteryVolts, 48)
		t.Put(ride.BatteryAmps, at)
	}
}

func TestJoinFindsOffsetAndDrift(t *testing.T) {
	rides := recorded(t)
	for n, r := range rides {
		length := float64(r.Len())
		tests := []struct {
			reason string
			logger driveLogger
		}{
			{"40 ppm", driveLogger{from: 37.4, to: length, every: 1, drift: 40, noise: 0.15, only: ride.Speed}},
			{"started before the head unit", driveLogger{from: 0.7, to: length * 0.8, every: 1, drift: -25, noise: 0.15, only: ride.Speed}},
			{"ten samples a second", driveLogger{from: 37.4, to: length, every: 0.1, drift: 40, noise: 0.3, only: ride.Speed}},
			{"cadence alone", driveLogger{from: 37.4, to: length, every: 1, drift: 40, only: ride.CadenceRPM}},
			{"a third of the ride", driveLogger{from: length/3 + 0.4, to: length * 2 / 3, every: 1, noise: 0.15, only: ride.Speed}},
		}
		for i, tt := range tests {
			tt.logger.seed = uint64(10*n + i)
			a, b := headUnit(r, 0, r.Len()), tt.logger.log(r)
			joined, report, err := ingest.Join(a, b, ingest.JoinOptions{})
			if err != nil {
				t.Errorf("ride %d, %s: %v", n, tt.reason, err)
				continue
			}
			last := b.Time[len(b.Time)-1]
			startError := report.OffsetS - tt.logger.from
			endError := startError + (report.DriftPPM-tt.logger.drift)*1e-6*last
			t.Logf("ride %d, %s: off by %+.3f s at the start and %+.3f s at the end (stated %.3f), drift %.0f ppm, r %.3f over %.3f", n, tt.reason, startError, endError, report.OffsetError, report.DriftPPM, report.Correlation, report.RunnerUp)
			if math.Abs(startError) > 0.2 || math.Abs(endError) > 0.2 {
				t.Errorf("ride %d, %s: off by %.2f s at the start and %.2f s at the end", n, tt.reason, startError, endError)
			}
			// The joined log holds b's channels at a's times: its amperes are the
			// ride's own second. Beside a gap of b there is no line to lay, and the
			// nearest second counts.
			worst, sum, count := 0.0, 0.0, 0.0
			for k, amps := range joined.Values[ride.BatteryAmps] {
				if !math.IsNaN(amps) {
					off := math.Abs(amps - joined.Time[k])
					worst, sum, count = max(worst, off), sum+off, count+1
				}
			}
			if worst > 0.5+0.2 || sum/count > 0.1 || !joined.Has(ride.Speed) || !joined.Has(ride.BatteryVolts) {
				t.Errorf("ride %d, %s: b's samples are %.2f s out of place, up to %.2f s", n, tt.reason, sum/count, worst)
			}
		}
	}
}

func TestJoinRefusesUnrelatedRides(t *testing.T) {
	rides := recorded(t)
	rng := rand.New(rand.NewPCG(3, 4))
	refused, closest := 0, 0.0
	const pairs = 50
	for i := range pairs {
		// Two stretches of different rides, or far apart on one.
		x, y := rides[i%len(rides)], rides[(i+1+i/len(rides)%(len(rides)-1))%len(rides)]
		cut := func(r *ride.Ride) *ride.Track {
			length := min(r.Len(), 1200+rng.IntN(4000))
			from := rng.IntN(r.Len() - length + 1)
			return headUnit(r, from, from+length)
		}
		_, report, err := ingest.Join(cut(x), cut(y), ingest.JoinOptions{})
		if errors.Is(err, ingest.ErrUnclear) {
			refused++
		} else {
			t.Errorf("pair %d: %v, correlation %.2f over %.2f", i, err, report.Correlation, report.RunnerUp)
		}
		closest = max(closest, report.Correlation)
	}
	t.Logf("%d of %d refused, highest correlation %.2f", refused, pairs, closest)
}

func TestJoinRefusesLaps(t *testing.T) {
	// A lap of ten minutes, ridden alike six times: any lap fits any other.
	rng := rand.New(rand.NewPCG(5, 6))
	lap := make([]float64, 600)
	for k := range lap {
		lap[k] = 6 + 2*math.Sin(float64(k)/9) + 1.5*math.Sin(float64(k)/23+1)
	}
	log := func(from, laps int) *ride.Track {
		t := &ride.Track{Sources: []ride.Source{{File: "laps.fit"}}}
		for k := range laps * 600 {
			t.Sample(float64(k))
			t.Put(ride.Speed, max(0, lap[(from+k)%600]+0.1*rng.NormFloat64()))
		}
		return t
	}
	_, report, err := ingest.Join(log(0, 6), log(100, 3), ingest.JoinOptions{})
	if !errors.Is(err, ingest.ErrUnclear) {
		t.Errorf("got %v at %v s", err, report.OffsetS)
	}
}

func TestJoinByHand(t *testing.T) {
	a, b := &ride.Track{Sources: []ride.Source{{File: "a.csv"}}}, &ride.Track{Sources: []ride.Source{{File: "b.csv"}}}
	for k := range 30 {
		a.Sample(float64(100 + k))
		a.Put(ride.CadenceRPM, float64(60+k))
		b.Sample(float64(k))
		b.Put(ride.BatteryVolts, float64(k))
	}
	if _, _, err := ingest.Join(a, b, ingest.JoinOptions{}); !errors.Is(err, ingest.ErrUnclear) {
		t.Errorf("got %v", err)
	}
	joined, report, err := ingest.Join(a, b, ingest.JoinOptions{Manual: true, OffsetS: 10.5})
	if err != nil || !report.Manual {
		t.Fatal(err)
	}
	// Second 110.5 of a is second 0 of b; b goes on 11 s after a's end.
	for k, s := range joined.Time {
		want := s - 110.5
		if got := joined.Values[ride.BatteryVolts][k]; want >= 0 && want <= 29 && math.Abs(got-want) > 1e-9 {
			t.Errorf("at %v s: %v V, want %v", s, got, want)
		}
	}
	if last := joined.Time[len(joined.Time)-1]; last != 140 {
		t.Errorf("the joined log ends at %v s", last)
	}
	if !said(joined, "b.csv was laid on the clock of a.csv: +10.5 s, as given by hand") {
		t.Errorf("notes %v", joined.Notes)
	}
}

func TestJoinKeepsTheBetterSpeed(t *testing.T) {
	r := recorded(t)[0]
	a := headUnit(r, 0, 2000)
	b := driveLogger{from: 10, to: 1500, every: 1, noise: 0.1, only: ride.Speed}.log(r)
	a.Origins[ride.Speed], b.Origins[ride.Speed] = ride.Satellite, ride.WheelSensor
	joined, _, err := ingest.Join(a, b, ingest.JoinOptions{})
	if err != nil || joined.Origins[ride.Speed] != ride.WheelSensor {
		t.Errorf("%v, speed from %v", err, joined.Origins[ride.Speed])
	}
	a.Origins[ride.Speed], b.Origins[ride.Speed] = ride.WheelSensor, ride.Satellite
	joined, _, err = ingest.Join(a, b, ingest.JoinOptions{})
	if err != nil || joined.Origins[ride.Speed] != ride.WheelSensor {
		t.Errorf("%v, speed from %v", err, joined.Origins[ride.Speed])
	}
}

func BenchmarkJoin(b *testing.B) {
	r := recorded(b)[0]
	x := headUnit(r, 0, r.Len())
	y := driveLogger{from: 37.4, to: float64(r.Len()), every: 1, drift: 40, noise: 0.15, only: ride.Speed}.log(r)
	for b.Loop() {
		if _, _, err := ingest.Join(x, y, ingest.JoinOptions{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(r.Len()), "ns/second")
}

// The match goes with the joined ride, so that the report can show it.
func TestMatchReachesTheRide(t *testing.T) {
	a, b := &ride.Track{Name: "head unit"}, &ride.Track{Name: "drive"}
	for i := range 300 {
		a.Sample(float64(i))
		a.Put(ride.Speed, 5)
		b.Sample(float64(i))
		b.Put(ride.BatteryVolts, 48)
	}
	joined, _, err := ingest.Join(a, b, ingest.JoinOptions{Manual: true, OffsetS: 12})
	if err != nil {
		t.Fatal(err)
	}
	r, err := joined.Ride()
	if err != nil {
		t.Fatal(err)
	}
	if r.Match == nil || !r.Match.ByHand || r.Match.OffsetS != 12 {
		t.Errorf("%+v", r.Match)
	}
}
