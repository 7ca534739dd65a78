package fitlog_test

import (
	"errors"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"cogledger/ingest/fitlog"
	"cogledger/ingest/ride"
)

// module is the folder of a module in the module cache.
func module(t testing.TB, path string) string {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", path).Output()
	if err != nil || len(strings.TrimSpace(string(out))) == 0 {
		t.Skipf("the module cache does not hold %s: %v", path, err)
	}
	return strings.TrimSpace(string(out))
}

const (
	tormoder  = "github.com/tormoder/fit"
	muktihari = "github.com/muktihari/fit"
)

// corpus lists every FIT file that the two decoders' modules hold.
func corpus(t testing.TB) []string {
	t.Helper()
	var files []string
	for _, m := range []string{tormoder, muktihari} {
		err := filepath.WalkDir(filepath.Join(module(t, m), "testdata"), func(path string, d fs.DirEntry, err error) error {
			if err == nil && strings.HasSuffix(path, ".fit") {
				files = append(files, path)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if dir := os.Getenv("COGLEDGER_RIDES"); dir != "" {
		more, err := filepath.Glob(filepath.Join(dir, "*.fit"))
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, more...)
	}
	return files
}

func read(t testing.TB, path string) ([]*ride.Track, error) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return fitlog.Read(data, filepath.Base(path), fitlog.Limits{})
}

// Counts, spans and channels were read off the messages of these files, and the
// kind of speed sensor off their device_info messages. WithGearChangeData.fit
// holds 37 rear shifts, twice two of them in one second.
func TestRecordedRides(t *testing.T) {
	tests := []struct {
		module, path string
		records      int
		span         time.Duration
		has, lacks   []ride.Channel
		speed        ride.Origin
		shifts       int
	}{
		{tormoder, "testdata/bpg/garmin.fit", 8823, 2*time.Hour + 48*time.Minute + 54*time.Second,
			[]ride.Channel{ride.Speed, ride.CadenceRPM, ride.RiderPower, ride.Altitude, ride.Latitude, ride.AirTemp}, []ride.Channel{ride.BatteryVolts}, ride.Satellite, 0},
		{tormoder, "testdata/dcrainmaker/Edge810-Vector-2013-08-16-15-35-10.fit", 4700, 78*time.Minute + 19*time.Second,
			[]ride.Channel{ride.Speed, ride.CadenceRPM, ride.RiderPower}, nil, ride.WheelSensor, 0},
		{tormoder, "testdata/python-fitparse/garmin-edge-500-activitiy.fit", 10686, 3*time.Hour + 31*time.Minute + 31*time.Second,
			[]ride.Channel{ride.Speed, ride.CadenceRPM}, []ride.Channel{ride.RiderPower}, ride.WheelSensor, 0},
		{muktihari, "testdata/from_official_sdk/WithGearChangeData.fit", 1979, 32*time.Minute + 58*time.Second,
			[]ride.Channel{ride.Speed, ride.CadenceRPM, ride.RiderPower}, nil, ride.Satellite, 35},
	}
	for _, tt := range tests {
		tracks, err := read(t, filepath.Join(module(t, tt.module), tt.path))
		if err != nil || len(tracks) != 1 {
			t.Errorf("%s: %d tracks, %v", tt.path, len(tracks), err)
			continue
		}
		track := tracks[0]
		span := time.Duration(track.Time[len(track.Time)-1]-track.Time[0]) * time.Second
		if len(track.Time) != tt.records || span != tt.span {
			t.Errorf("%s: %d records over %v, want %d over %v", tt.path, len(track.Time), span, tt.records, tt.span)
		}
		for _, c := range tt.has {
			if !track.Has(c) {
				t.Errorf("%s: lacks %v", tt.path, c)
			}
		}
		for _, c := range tt.lacks {
			if track.Has(c) {
				t.Errorf("%s: has %v", tt.path, c)
			}
		}
		if track.Origins[ride.Speed] != tt.speed {
			t.Errorf("%s: speed from %v, want %v", tt.path, track.Origins[ride.Speed], tt.speed)
		}
		if len(track.Shifts) != tt.shifts {
			t.Errorf("%s: %d shifts, want %d", tt.path, len(track.Shifts), tt.shifts)
		}
	}
}

// Every file that can be reached gives a ride on the clock, or an error that
// names it.
func TestEveryReachableFile(t *testing.T) {
	rides := 0
	for _, path := range corpus(t) {
		tracks, err := read(t, path)
		if err != nil {
			if !errors.Is(err, fitlog.ErrNoRecords) && !errors.Is(err, fitlog.ErrNotFIT) || !strings.HasPrefix(err.Error(), filepath.Base(path)) {
				t.Errorf("%s: %v", path, err)
			}
			t.Logf("%s: %v", filepath.Base(path), err)
			continue
		}
		for _, track := range tracks {
			r, err := track.Ride()
			if err != nil {
				t.Errorf("%s: %v", path, err)
				continue
			}
			rides++
			t.Logf("%s: %d records, %d s, %v, shifts %d, %+v", track.Name, len(track.Time), r.Len(), r.Channels(), len(r.Shifts), track.Sources)
			for _, n := range r.Notes {
				t.Log("   ", n)
			}
		}
	}
	if rides < 15 {
		t.Errorf("only %d rides", rides)
	}
}

// An old log that packs speed and distance into three bytes, twelve bits of
// which are all that is left of the distance. The file's own summary says that
// it is 10,248.67 m long.
func TestPackedDistance(t *testing.T) {
	path := filepath.Join(module(t, tormoder), "testdata/python-fitparse/compressed-speed-distance.fit")
	for range 2 { // reading it once must leave nothing behind
		tracks, err := read(t, path)
		if err != nil {
			t.Fatal(err)
		}
		d := tracks[0].Values[ride.Distance]
		if got := d[len(d)-1]; math.Abs(got-10248.67) > 5 {
			t.Errorf("got %.2f m, want 10248.67", got)
		}
	}
}
