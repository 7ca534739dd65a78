package analysis_test

import (
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/ingest"
	"cogledger/ingest/ride"
)

// module is the folder of a module in the module cache.
func module(t testing.TB, path string) string {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", path).Output()
	dir := strings.TrimSpace(string(out))
	if err != nil || dir == "" {
		t.Skipf("the module cache does not hold %s: %v", path, err)
	}
	return dir
}

// realLogs lists the logs in the modules of the readers' libraries that were
// recorded by devices, and those of the folder COGLEDGER_RIDES.
func realLogs(t testing.TB) []string {
	t.Helper()
	var logs []string
	for _, m := range []string{"github.com/tormoder/fit", "github.com/muktihari/fit", "github.com/tkrajina/gpxgo"} {
		err := filepath.WalkDir(module(t, m), func(path string, d fs.DirEntry, err error) error {
			if ext := filepath.Ext(path); err == nil && !d.IsDir() && (ext == ".fit" || ext == ".gpx") {
				logs = append(logs, path)
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
		logs = append(logs, more...)
	}
	return logs
}

// recorded are three rides that devices logged, of 33 minutes, 78 minutes and
// 2 h 49 min.
func recorded(t testing.TB) []*ride.Track {
	t.Helper()
	var tracks []*ride.Track
	for _, file := range [][2]string{
		{"github.com/muktihari/fit", "testdata/from_official_sdk/WithGearChangeData.fit"},
		{"github.com/tormoder/fit", "testdata/dcrainmaker/Edge810-Vector-2013-08-16-15-35-10.fit"},
		{"github.com/tormoder/fit", "testdata/bpg/garmin.fit"},
	} {
		read, err := ingest.Open(filepath.Join(module(t, file[0]), file[1]), ingest.Options{})
		if err != nil {
			t.Fatal(err)
		}
		tracks = append(tracks, read[0])
		if testing.Short() {
			break
		}
	}
	return tracks
}

// roadBike is a profile for rides of bikes whose gears nobody noted: two rings
// and a common cassette, with the example's drive.
func roadBike(t testing.TB) *bike.Profile {
	t.Helper()
	p, err := bike.Parse([]byte(`
name: two rings
wheel: {tyre: 25-622}
drivetrain: {chainrings: [50, 34], cogs: [11, 12, 13, 14, 15, 17, 19, 21, 23, 25, 28]}
drive: {kind: mid, turns_per_crank: 36}
battery: {nominal_v: 48, capacity_wh: 500, resistance_ohm: 0.11}
`), "roadbike.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// copied is a track that shares no memory with t.
func copied(t *ride.Track) *ride.Track {
	c := *t
	c.Time = append([]float64(nil), t.Time...)
	for k, column := range t.Values {
		if column != nil {
			c.Values[k] = append([]float64(nil), column...)
		}
	}
	c.Shifts = append([]ride.RecordedShift(nil), t.Shifts...)
	c.Notes = append([]ride.Note(nil), t.Notes...)
	return &c
}

// near reports whether two numbers are equal within a relative bound, or both
// not known.
func near(a, b, within float64) bool {
	if math.IsNaN(a) || math.IsNaN(b) {
		return math.IsNaN(a) && math.IsNaN(b)
	}
	return math.Abs(a-b) <= within*math.Max(math.Abs(a), math.Abs(b))
}
