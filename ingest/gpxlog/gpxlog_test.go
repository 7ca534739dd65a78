package gpxlog_test

import (
	"errors"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"cogledger/ingest/gpxlog"
	"cogledger/ingest/markup"
	"cogledger/ingest/ride"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

var nan = math.NaN()

func said(t *ride.Track, words string) bool {
	return slices.ContainsFunc(t.Notes, func(n ride.Note) bool { return strings.Contains(n.String(), words) })
}

// document puts points into a GPX 1.1 file.
func document(points string) string {
	return `<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="bench logger" xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="urn:x" xmlns:q="urn:q">
<metadata><time>2020-01-01T00:00:00Z</time></metadata>
<wpt lat="1" lon="2"><time>2020-01-01T00:00:00Z</time></wpt>
<trk><name>Harbour loop</name><extensions><x:cad>1</x:cad></extensions><trkseg>
` + points + `
</trkseg></trk></gpx>`
}

const two = `<trkpt lat="47.1" lon="8.2"><ele>430.5</ele><time>2026-05-04T06:30:00Z</time></trkpt>
<trkpt lat="47.2" lon="8.3"><ele>431</ele><time>2026-05-04T06:30:01Z</time></trkpt>
`

func TestRead(t *testing.T) {
	tests := []struct {
		reason, text string
		channel      ride.Channel
		time, want   []float64
		note         string
	}{
		{"altitude", document(two), ride.Altitude, []float64{0, 1}, []float64{430.5, 431}, ""},
		{"position", document(two), ride.Latitude, []float64{0, 1}, []float64{47.1, 47.2}, ""},
		{"zones and fractions of a second", document(`<trkpt lat="1" lon="2"><time>2026-05-04T08:30:00+02:00</time></trkpt><trkpt lat="1" lon="3"><time>2026-05-04T06:30:01.250Z</time></trkpt>`), ride.Longitude, []float64{0, 1.25}, []float64{2, 3}, ""},
		{"extensions under any prefix", document(`<trkpt lat="1" lon="2"><time>2026-05-04T06:30:00Z</time><extensions><q:power>210</q:power><x:TrackPointExtension><x:cad>71</x:cad><x:atemp>18</x:atemp></x:TrackPointExtension></extensions></trkpt>`), ride.CadenceRPM, []float64{0}, []float64{71}, ""},
		{"a bare power extension", document(`<trkpt lat="1" lon="2"><time>2026-05-04T06:30:00Z</time><extensions><power>210</power></extensions></trkpt>`), ride.RiderPower, []float64{0}, []float64{210}, ""},
		{"a drive's extension", document(`<trkpt lat="1" lon="2"><time>2026-05-04T06:30:00Z</time><extensions><x:battery_voltage unit="mV">48500</x:battery_voltage></extensions></trkpt>`), ride.BatteryVolts, []float64{0}, []float64{48.5}, `"battery_voltage" for battery_voltage`},
		{"GPX 1.0 speed", strings.Replace(document(`<trkpt lat="1" lon="2"><time>2026-05-04T06:30:00Z</time><speed>5.5</speed></trkpt>`), `version="1.1"`, `version="1.0"`, 1), ride.Speed, []float64{0}, []float64{5.5}, ""},
		{"a point without a time", document(`<trkpt lat="1" lon="2"/>` + two), ride.Altitude, []float64{0, 1}, []float64{430.5, 431}, "1 points have no time"},
		{"a time that is none", document(`<trkpt lat="1" lon="2"><time>tomorrow</time></trkpt>` + two), ride.Altitude, []float64{0, 1}, []float64{430.5, 431}, "1 points have no time"},
		{"no place on Earth", document(`<trkpt lat="999" lon="2"><time>2026-05-04T06:29:59Z</time></trkpt>` + two), ride.Latitude, []float64{0, 1, 2}, []float64{nan, 47.1, 47.2}, "line 6: 1 positions are none on Earth"},
		{"a latitude that is no number", document(`<trkpt lat="NaN" lon="2"><time>2026-05-04T06:29:59Z</time></trkpt>` + two), ride.Longitude, []float64{0, 1, 2}, []float64{nan, 8.2, 8.3}, "none on Earth"},
		{"a latitude beyond the pole", document(`<trkpt lat="91" lon="2"><time>2026-05-04T06:29:59Z</time></trkpt>` + two), ride.Longitude, []float64{0, 1, 2}, []float64{nan, 8.2, 8.3}, "none on Earth"},
		{"numbers that are none", document(`<trkpt lat="1" lon="2"><ele>high</ele><sat>many</sat><hdop>x</hdop><time>2026-05-04T06:29:59Z</time></trkpt>` + two), ride.Altitude, []float64{0, 1, 2}, []float64{nan, 430.5, 431}, ""},
		{"cut inside a point", document(two)[:strings.Index(document(two), "431</ele>")], ride.Altitude, []float64{0}, []float64{430.5}, "the file ends early; all points before this place were read"},
		{"cut inside a tag", document(two)[:strings.Index(document(two), "trkseg></trk>")-3], ride.Altitude, []float64{0, 1}, []float64{430.5, 431}, "all points before this place"},
		{"broken markup", document(two + "<trkpt lat=1></oops>"), ride.Altitude, []float64{0, 1}, []float64{430.5, 431}, "line 8"},
		{"a byte order mark", "\ufeff" + document(two), ride.Altitude, []float64{0, 1}, []float64{430.5, 431}, ""},
		{"ISO 8859-1", strings.Replace(strings.Replace(document(two), "UTF-8", "ISO-8859-1", 1), "Harbour", "Hafenstra\xdfe", 1), ride.Altitude, []float64{0, 1}, []float64{430.5, 431}, ""},
	}
	for _, tt := range tests {
		tracks, err := gpxlog.Read([]byte(tt.text), "t.gpx", gpxlog.Limits{})
		if err != nil || len(tracks) != 1 {
			t.Errorf("%s: %d tracks, %v", tt.reason, len(tracks), err)
			continue
		}
		track := tracks[0]
		if diff := cmp.Diff(tt.time, track.Time); diff != "" {
			t.Errorf("%s: times (-want +got):\n%s", tt.reason, diff)
		}
		if diff := cmp.Diff(tt.want, track.Values[tt.channel], cmpopts.EquateNaNs(), cmpopts.EquateApprox(0, 1e-9)); diff != "" {
			t.Errorf("%s: values (-want +got):\n%s", tt.reason, diff)
		}
		if tt.note == "" && len(track.Notes) > 0 || tt.note != "" && !said(track, tt.note) {
			t.Errorf("%s: notes %q", tt.reason, track.Notes)
		}
		if !strings.HasSuffix(track.Name, " loop") || track.Sources[0].Device != "bench logger" {
			t.Errorf("%s: %q by %q", tt.reason, track.Name, track.Sources[0].Device)
		}
	}
}

func TestEpochAndTracks(t *testing.T) {
	text := strings.Replace(document(two), "</gpx>", `<trk><trkseg><trkpt lat="1" lon="2"><time>2026-05-05T06:00:00Z</time></trkpt></trkseg></trk></gpx>`, 1)
	tracks, err := gpxlog.Read([]byte(text), "t.gpx", gpxlog.Limits{})
	if err != nil || len(tracks) != 2 {
		t.Fatalf("%d tracks, %v", len(tracks), err)
	}
	if want := time.Date(2026, 5, 4, 6, 30, 0, 0, time.UTC); !tracks[0].Epoch.Equal(want) || !tracks[1].Epoch.Equal(want.Add(23*time.Hour+30*time.Minute)) {
		t.Errorf("epochs %v, %v", tracks[0].Epoch, tracks[1].Epoch)
	}
	if tracks[1].Name != "t.gpx" {
		t.Errorf("a track without a name takes that of the file, not %q", tracks[1].Name)
	}
}

func TestErrors(t *testing.T) {
	bomb := `<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>` + strings.TrimPrefix(document("&b;"), `<?xml version="1.0" encoding="UTF-8"?>`)
	tests := []struct {
		reason, text string
		is           error
		say          string
	}{
		{"entity bomb", bomb, markup.ErrEntities, "entities"},
		{"nested without end", document(two + `<trkpt lat="1" lon="2"><extensions>` + strings.Repeat("<a>", 1000)), markup.ErrTooDeep, "deep"},
		{"another format", "<html><body/></html>", gpxlog.ErrNotGPX, "export it again"},
		{"no XML", "hello", gpxlog.ErrNotGPX, "t.gpx"},
		{"a route", `<gpx version="1.1"><rte><rtept lat="1" lon="2"/></rte></gpx>`, gpxlog.ErrNoPoints, "planned route"},
		{"no times", document(`<trkpt lat="1" lon="2"/>`), gpxlog.ErrNoPoints, "1 points have no time"},
	}
	for _, tt := range tests {
		_, err := gpxlog.Read([]byte(tt.text), "t.gpx", gpxlog.Limits{})
		if !errors.Is(err, tt.is) || !strings.Contains(err.Error(), tt.say) || !strings.HasPrefix(err.Error(), "t.gpx: ") {
			t.Errorf("%s: got %v", tt.reason, err)
		}
	}
	if _, err := gpxlog.Read(make([]byte, 100), "t.gpx", gpxlog.Limits{Bytes: 99}); !errors.Is(err, gpxlog.ErrTooLarge) {
		t.Errorf("got %v", err)
	}
	tracks, err := gpxlog.Read([]byte(document(two)), "t.gpx", gpxlog.Limits{Points: 1})
	if err != nil || len(tracks[0].Time) != 1 || !said(tracks[0], "more points than a ride can") {
		t.Errorf("%v, %v", tracks, err)
	}
}

// The files that the decoder's own module is tested with.
func recorded(t testing.TB) map[string][]byte {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/tkrajina/gpxgo").Output()
	if dir := strings.TrimSpace(string(out)); err == nil && dir != "" {
		files := map[string][]byte{}
		err = filepath.WalkDir(filepath.Join(dir, "test_files"), func(path string, d fs.DirEntry, err error) error {
			if err == nil && strings.HasSuffix(path, ".gpx") {
				files[filepath.Base(path)], err = os.ReadFile(path)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return files
	}
	t.Skipf("the module cache does not hold gpxgo: %v", err)
	return nil
}

func TestRecordedFiles(t *testing.T) {
	// Track points with a time, counted with grep.
	points := map[string]int{"korita-zbevnica.gpx": 513, "Mojstrovka.gpx": 184, "visnjan.gpx": 413, "cerknicko-without-times.gpx": 5, "iso8859-1encoded.gpx": 0}
	for name, data := range recorded(t) {
		tracks, err := gpxlog.Read(data, name, gpxlog.Limits{})
		n := 0
		for _, track := range tracks {
			n += len(track.Time)
			if _, err := track.Ride(); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
		t.Logf("%s: %d points, %v", name, n, err)
		if want, ok := points[name]; ok && n != want {
			t.Errorf("%s: %d points, want %d", name, n, want)
		}
		if n == 0 && !errors.Is(err, gpxlog.ErrNoPoints) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(document(two)))
	f.Add([]byte(strings.Replace(document(`<trkpt lat="1" lon="2"><time>2026-05-04T06:30:00Z</time><speed>5.5</speed></trkpt>`), "1.1", "1.0", 1)))
	f.Add([]byte(document(two)[:400]))
	f.Fuzz(func(t *testing.T, data []byte) {
		tracks, err := gpxlog.Read(data, "f.gpx", gpxlog.Limits{Points: 1000})
		if (err == nil) != (len(tracks) > 0) {
			t.Errorf("%d tracks, %v", len(tracks), err)
		}
		for _, track := range tracks {
			if _, err := track.Ride(); err != nil && !errors.Is(err, ride.ErrEmpty) {
				t.Error(err)
			}
		}
	})
}

func BenchmarkRead(b *testing.B) {
	data := recorded(b)["visnjan.gpx"]
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := gpxlog.Read(data, "b.gpx", gpxlog.Limits{}); err != nil {
			b.Fatal(err)
		}
	}
}
