package ingest_test

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"cogledger/ingest"
	"cogledger/ingest/csvlog"
	"cogledger/ingest/fitlog"
	"cogledger/ingest/ride"
)

func said(t *ride.Track, words string) bool {
	return slices.ContainsFunc(t.Notes, func(n ride.Note) bool { return strings.Contains(n.String(), words) })
}

func gzipped(data []byte) []byte {
	var b bytes.Buffer
	w := gzip.NewWriter(&b)
	w.Write(data)
	w.Close()
	return b.Bytes()
}

type member struct {
	name string
	data []byte
}

func zipped(t testing.TB, members ...member) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, m := range members {
		f, err := w.Create(m.name)
		if err != nil {
			t.Fatal(err)
		}
		f.Write(m.data)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

const (
	tableLog = "elapsed_s,speed_kmh,cadence_rpm\n0,18,60\n1,19,61\n2,20,62\n"
	gpxLog   = `<?xml version="1.0"?><gpx version="1.1" creator="x"><trk><trkseg><trkpt lat="1" lon="2"><time>2026-05-04T06:30:00Z</time></trkpt></trkseg></trk></gpx>`
	tcxLog   = `<TrainingCenterDatabase><Activities><Activity Sport="Biking"><Lap><Track><Trackpoint><Time>2026-05-04T06:30:00Z</Time><Cadence>70</Cadence></Trackpoint></Track></Lap></Activity></Activities></TrainingCenterDatabase>`
)

func fitLog(t testing.TB) []byte {
	t.Helper()
	track := &ride.Track{Epoch: time.Date(2026, 5, 4, 6, 30, 0, 0, time.UTC)}
	for i := range 5 {
		track.Sample(float64(i))
		track.Put(ride.Speed, 5)
	}
	var b bytes.Buffer
	if err := fitlog.Write(&b, track); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// What a file is, its content tells: all are named ride.dat here.
func TestOpen(t *testing.T) {
	fit := fitLog(t)
	tests := []struct {
		reason  string
		data    []byte
		formats []string // of the tracks
		note    string
	}{
		{"FIT", fit, []string{"FIT"}, ""},
		{"GPX", []byte(gpxLog), []string{"GPX"}, ""},
		{"TCX", []byte(tcxLog), []string{"TCX"}, ""},
		{"TCX after a byte order mark and blanks", []byte("\ufeff \n" + tcxLog), []string{"TCX"}, ""},
		{"CSV", []byte(tableLog), []string{"CSV"}, ""},
		{"gzipped", gzipped(fit), []string{"FIT"}, ""},
		{"several in a zip archive", zipped(t, member{"a.fit", fit}, member{"b/c.gpx", []byte(gpxLog)}), []string{"FIT", "GPX"}, ""},
		{"gzipped in a zip archive", zipped(t, member{"a.fit.gz", gzipped(fit)}), []string{"FIT"}, ""},
		{"a zip archive with what is no log", zipped(t, member{"a.fit", fit}, member{"b.jpg", []byte("\xff\xd8\xff\xe0")}), []string{"FIT"}, "ride.dat/b.jpg: not a log that can be read: it is a JPEG picture"},
		{"what systems leave in archives", zipped(t, member{"__MACOSX/._a.fit", []byte("x")}, member{".DS_Store", []byte("x")}, member{"a.csv", []byte(tableLog)}), []string{"CSV"}, ""},
	}
	for _, tt := range tests {
		path := filepath.Join(t.TempDir(), "ride.dat")
		if err := os.WriteFile(path, tt.data, 0o600); err != nil {
			t.Fatal(err)
		}
		tracks, err := ingest.Open(path, ingest.Options{})
		var formats []string
		for _, track := range tracks {
			formats = append(formats, track.Sources[0].Format)
		}
		if !slices.Equal(formats, tt.formats) || (err != nil) != (tt.formats == nil) {
			t.Errorf("%s: got %v, %v", tt.reason, formats, err)
			continue
		}
		if tt.note != "" && !said(tracks[0], tt.note) {
			t.Errorf("%s: notes %v", tt.reason, tracks[0].Notes)
		}
	}
}

func TestOpenErrors(t *testing.T) {
	bomb := gzipped(make([]byte, 64<<20))
	tests := []struct {
		reason string
		data   []byte
		is     error
		say    string
	}{
		{"a JPEG named .fit", []byte("\xff\xd8\xff\xe0\x00\x10JFIF"), ingest.ErrUnknown, "JPEG picture"},
		{"empty", nil, ingest.ErrUnknown, "it is empty; copy it from the device again"},
		{"blanks", []byte("  \n"), ingest.ErrUnknown, "it is empty"},
		{"a web page", []byte("<!DOCTYPE html><html></html>"), ingest.ErrUnknown, "a web page"},
		{"other XML", []byte("<kml></kml>"), ingest.ErrUnknown, "neither GPX nor TCX"},
		{"JSON", []byte(`{"a": 1}`), ingest.ErrUnknown, "JSON"},
		{"an unread packing", []byte("7z\xbc\xaf\x27\x1c"), ingest.ErrUnknown, "unpack it"},
		{"bytes", []byte{1, 2, 0, 3}, ingest.ErrUnknown, "unknown kind"},
		{"a table of something else", []byte("name,age\nx,3\n"), csvlog.ErrNotTable, "line 1"},
		{"a zip bomb", zipped(t, member{"a.csv", make([]byte, 64<<20)}), ingest.ErrTooLarge, "ride.fit/a.csv"},
		{"a gzip bomb", bomb, ingest.ErrTooLarge, "no honest log"},
		{"packed over and over", gzipped(gzipped(gzipped(gzipped([]byte(tableLog))))), ingest.ErrUnknown, "packed more than"},
		{"a zip archive cut short", zipped(t, member{"a.csv", []byte(tableLog)})[:60], ingest.ErrUnknown, "zip directory"},
		{"an empty zip archive", zipped(t), ingest.ErrUnknown, "holds no files"},
		{"a zip archive of pictures", zipped(t, member{"a.jpg", []byte("\xff\xd8\xff\xe0")}), ingest.ErrUnknown, "a.jpg"},
	}
	for _, tt := range tests {
		path := filepath.Join(t.TempDir(), "ride.fit")
		if err := os.WriteFile(path, tt.data, 0o600); err != nil {
			t.Fatal(err)
		}
		_, err := ingest.Open(path, ingest.Options{})
		if !errors.Is(err, tt.is) || !strings.Contains(err.Error(), tt.say) || !strings.Contains(err.Error(), "ride.fit") {
			t.Errorf("%s: got %v", tt.reason, err)
		}
	}
	dir := t.TempDir()
	if _, err := ingest.Open(dir, ingest.Options{}); !errors.Is(err, ingest.ErrUnknown) || !strings.Contains(err.Error(), "folder") {
		t.Errorf("got %v", err)
	}
	if _, err := ingest.Open(filepath.Join(dir, "none.fit"), ingest.Options{}); !errors.Is(err, fs.ErrNotExist) || !strings.Contains(err.Error(), "check the path") {
		t.Errorf("got %v", err)
	}
	if _, err := ingest.Read([]byte(tableLog), "t.csv", ingest.Options{Limits: ingest.Limits{Bytes: 10}}); !errors.Is(err, ingest.ErrTooLarge) {
		t.Errorf("got %v", err)
	}
}

func TestGzipCutShort(t *testing.T) {
	var table strings.Builder
	table.WriteString("elapsed_s,rider_power_w\n")
	for i := range 5000 {
		fmt.Fprintf(&table, "%d,%d\n", i, i*7919%997) // numbers that do not pack well
	}
	packed := gzipped([]byte(table.String()))
	tracks, err := ingest.Read(packed[:len(packed)*2/3], "cut.csv.gz", ingest.Options{})
	if err != nil || len(tracks[0].Time) < 1000 || !said(tracks[0], "cut.csv.gz: unpacked byte") {
		t.Errorf("%v", err)
	}
}

func TestSeveralRidesInOneLog(t *testing.T) {
	var table strings.Builder
	table.WriteString("elapsed_s,speed_kmh\n-900000,1\n")
	for _, start := range []int{0, 30_000, 60_000} {
		for i := range 20 {
			fmt.Fprintf(&table, "%d,18\n", start+i)
		}
	}
	tracks, err := ingest.Read([]byte(table.String()), "week.csv", ingest.Options{})
	if err != nil || len(tracks) != 3 {
		t.Fatalf("%d tracks, %v", len(tracks), err)
	}
	if tracks[1].Name != "week.csv, ride 2 of 3" || !said(tracks[0], "1 samples stand in pieces") || len(tracks[2].Time) != 20 {
		t.Errorf("%q, notes %v", tracks[1].Name, tracks[0].Notes)
	}
}

// module is the folder of a module in the module cache.
func module(t testing.TB, path string) string {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", path).Output()
	if dir := strings.TrimSpace(string(out)); err == nil && dir != "" {
		return dir
	}
	t.Skipf("the module cache does not hold %s: %v", path, err)
	return ""
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(tableLog))
	f.Add([]byte(gpxLog))
	f.Add([]byte(tcxLog))
	f.Add(fitLog(f))
	f.Add(gzipped([]byte(tableLog)))
	f.Add(zipped(f, member{"a.csv", []byte(tableLog)}, member{"b.gpx", []byte(gpxLog)}))
	f.Fuzz(func(t *testing.T, data []byte) {
		tracks, err := ingest.Read(data, "f.dat", ingest.Options{Limits: ingest.Limits{Bytes: 1 << 20}})
		if (err == nil) != (len(tracks) > 0) {
			t.Errorf("%d tracks, %v", len(tracks), err)
		}
		if err != nil && !strings.Contains(err.Error(), "f.dat") {
			t.Errorf("%v does not name the file", err)
		}
	})
}
