package fleetrun

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"cogledger/analysis/bike"
	"cogledger/analysis/fleet/store"
	"cogledger/analysis/fleet/store/storetest"
	"cogledger/cmd/internal/fleetmade"
	"cogledger/ingest"
	"cogledger/ingest/ride"
)

// A later run does what is new or changed, and no more.
func TestOnlyWhatIsNew(t *testing.T) {
	folder := fleetCopy(t)
	s := open(t, filepath.Join(t.TempDir(), "fleet.sqlite"))
	logs := filepath.Join(folder, fleetmade.LogFolder)
	table := filepath.Join(folder, fleetmade.ProfileFolder, MapFile)
	ownProfile := filepath.Join(folder, fleetmade.ProfileFolder, "own.yaml")
	edit := func(path, old, new string) {
		data, err := os.ReadFile(path)
		must(t, err)
		if !strings.Contains(string(data), old) {
			t.Fatalf("%s does not hold %q", path, old)
		}
		write(t, path, []byte(strings.ReplaceAll(string(data), old, new)))
	}
	first, err := filepath.Glob(filepath.Join(logs, "bike-0001", "*.fit"))
	must(t, err)
	ofFirst := len(first)
	steps := []struct {
		name   string
		change func()
		want   Report
	}{
		{"everything", func() {}, Report{Found: 48, Reviewed: 48, Rides: 48}},
		{"nothing", func() {}, Report{Found: 48, Current: 48}},
		{"a comment in the profile", func() {
			edit(filepath.Join(folder, fleetmade.ProfileFolder, "default.yaml"), "name: ", "# a comment\nname: ")
		}, Report{Found: 48, Current: 48}},
		{"a touched log", func() { must(t, os.Chtimes(first[0], time.Time{}, time.Now())) }, Report{Found: 48, Current: 47, Copies: 1}},
		{"a copy under another name", func() {
			data, err := os.ReadFile(first[0])
			must(t, err)
			write(t, filepath.Join(logs, "bike-0099", "zz.fit"), data)
		}, Report{Found: 49, Current: 48, Copies: 1}},
		{"the copy goes", func() { must(t, os.Remove(filepath.Join(logs, "bike-0099", "zz.fit"))) }, Report{Found: 48, Current: 48}},
		{"a rider gets another name", func() { edit(table, "bike-0001,rider-", "bike-0001,renamed-") }, Report{Found: 48, Current: 48, Assigned: ofFirst}},
		{"one bike gets a profile of its own", func() {
			write(t, ownProfile, bytes.Replace(bike.ExampleYAML(), []byte("bike_kg: 25"), []byte("bike_kg: 31"), 1))
			write(t, table, []byte("bike,profile\nbike-0001,own\n"))
		}, Report{Found: 48, Current: 48 - ofFirst, Assigned: 48 - ofFirst, Reviewed: ofFirst, Rides: ofFirst}},
		{"that profile changes", func() { edit(ownProfile, "bike_kg: 31", "bike_kg: 33") }, Report{Found: 48, Current: 48 - ofFirst, Reviewed: ofFirst, Rides: ofFirst}},
		{"a log goes", func() { must(t, os.Remove(first[0])) }, Report{Found: 47, Current: 47}},
	}
	for _, step := range steps {
		step.change()
		got, err := run(t, s, folder, Options{Jobs: 2})
		must(t, err)
		got.Took, got.Seconds = 0, 0
		if !reflect.DeepEqual(got, step.want) {
			t.Errorf("%s: %+v, want %+v", step.name, got, step.want)
		}
	}
}

// What is packed is the same ride.
func TestPackedLogs(t *testing.T) {
	folder := fleetCopy(t)
	want := undisturbed(t, folder)
	logs := filepath.Join(folder, fleetmade.LogFolder)
	packed := 0
	entries, err := os.ReadDir(logs)
	must(t, err)
	for i, bikeFolder := range entries {
		files, err := filepath.Glob(filepath.Join(logs, bikeFolder.Name(), "*.fit"))
		must(t, err)
		var buffer bytes.Buffer
		z := zip.NewWriter(&buffer)
		for _, name := range files {
			data, err := os.ReadFile(name)
			must(t, err)
			switch i % 3 {
			case 1: // gzipped
				var b bytes.Buffer
				g := gzip.NewWriter(&b)
				g.Write(data)
				must(t, g.Close())
				write(t, name+".gz", b.Bytes())
				must(t, os.Remove(name))
				packed++
			case 2: // all of the bike's in one zip
				w, err := z.Create("2026/" + filepath.Base(name))
				must(t, err)
				w.Write(data)
				must(t, os.Remove(name))
				packed++
			}
		}
		must(t, z.Close())
		if i%3 == 2 {
			write(t, filepath.Join(logs, bikeFolder.Name()+".zip"), buffer.Bytes())
		}
	}
	s := open(t, filepath.Join(t.TempDir(), "packed.sqlite"))
	report, err := run(t, s, folder, Options{})
	must(t, err)
	if packed == 0 || report.Rides != len(want.Rides) || report.Failed > 0 {
		t.Fatalf("%d logs packed: %+v", packed, report)
	}
	got := storetest.Read(t, s)
	for _, d := range []*storetest.Dump{&want, &got} {
		d.Logs = nil // their names differ
		for i := range d.Rides {
			d.Rides[i].Path, d.Rides[i].Rider, d.Rides[i].Group = "", "", "" // the map goes by name
		}
	}
	if d := storetest.Diff(want, got); d != "" {
		t.Errorf("rows differ (-open +packed):\n%s", d)
	}
	if report, err = run(t, s, folder, Options{}); err != nil || report.Current != report.Found {
		t.Errorf("a second run: %+v, %v", report, err)
	}
}

func TestFind(t *testing.T) {
	folder := t.TempDir()
	for _, name := range []string{"a.fit", "B.FIT", "c.gpx.gz", "d/e.tcx", "d/f.csv", "d/notes.txt", ".hidden/g.fit", "d/._h.fit", "map.csv", "i.zip"} {
		write(t, filepath.Join(folder, name), []byte("x"))
	}
	found, err := Find([]string{folder, filepath.Join(folder, "d")}, filepath.Join(folder, "map.csv"))
	must(t, err)
	var names []string
	for _, l := range found.Logs {
		names = append(names, strings.TrimPrefix(l.Path, filepath.ToSlash(folder)+"/"))
	}
	if got, want := strings.Join(names, " "), "B.FIT a.fit c.gpx.gz d/e.tcx d/f.csv"; got != want {
		t.Errorf("found %s, want %s", got, want)
	}
	if len(found.Problems) != 1 || !strings.HasSuffix(found.Problems[0].Path, "i.zip") {
		t.Errorf("problems %v, want the zip that is none", found.Problems)
	}
	if _, err := Find([]string{filepath.Join(folder, "nowhere")}); err == nil || !strings.Contains(err.Error(), "no such") {
		t.Errorf("a folder that is not there: %v", err)
	}
}

// Damaged logs are named, and all others done.
func TestDamagedLogs(t *testing.T) {
	folder := fleetCopy(t)
	rides, damaged := 48, 8
	if os.Getenv(long) != "" {
		folder, rides, damaged = t.TempDir(), 5000, 500
		_, err := fleetmade.Write(context.Background(), folder, fleetmade.Options{Rides: rides, Bikes: 50, Minutes: 4, Seed: 5}, func(int) {})
		must(t, err)
	}
	logs, err := filepath.Glob(filepath.Join(folder, fleetmade.LogFolder, "*", "*.fit"))
	must(t, err)
	hurt := make(map[string]bool)
	for i := range damaged {
		name := logs[i*len(logs)/damaged]
		hurt[filepath.ToSlash(name)] = true
		data, err := os.ReadFile(name)
		must(t, err)
		switch i % 5 {
		case 0:
			data = nil
		case 1:
			data = data[:10]
		case 2:
			data = bytes.Repeat([]byte{0xa5}, len(data))
		case 3:
			data = []byte("<gpx><trk><trkseg></trkseg></trk></gpx>")
		case 4:
			data = append(data[:14:14], bytes.Repeat([]byte{0xff}, 4000)...)
		}
		write(t, name, data)
	}
	s := open(t, filepath.Join(t.TempDir(), "fleet.sqlite"))
	report, err := run(t, s, folder, Options{})
	must(t, err)
	if report.Failed != damaged || report.Reviewed != rides-damaged || report.Rides != rides-damaged {
		t.Errorf("%+v, want %d damaged of %d", report, damaged, rides)
	}
	sums, err := s.Sums(context.Background(), store.Question{})
	must(t, err)
	for _, p := range sums.Problems {
		if !hurt[p.Path] || p.Text == "" || strings.Contains(p.Text, "\n") {
			t.Errorf("%s: %q", p.Path, p.Text)
		}
		delete(hurt, p.Path)
	}
	for name := range hurt {
		t.Errorf("%s is not named", name)
	}
	if report, err = run(t, s, folder, Options{}); err != nil || report.Current != rides {
		t.Errorf("a second run tries damaged logs again: %+v, %v", report, err)
	}
	if report, err = run(t, s, folder, Options{Retry: true}); err != nil || report.Failed != damaged {
		t.Errorf("asked to, a run does not try them again: %+v, %v", report, err)
	}
}

// A log that hangs, panics or explodes is a problem of its own.
func TestLogsThatMisbehave(t *testing.T) {
	folder := fleetCopy(t)
	release := make(chan struct{})
	defer close(release)
	var calls atomic.Int32
	read := func(data []byte, name string) ([]*ride.Track, error) {
		switch calls.Add(1) {
		case 5:
			<-release
		case 9:
			panic("index out of range")
		case 13:
			return nil, errors.New(name + ": no good\nat all")
		}
		return ingest.Read(data, name, ingest.Options{})
	}
	big := filepath.Join(folder, fleetmade.LogFolder, "bike-0001", "big.csv")
	write(t, big, bytes.Repeat([]byte("1,2,3\n"), 400_000))
	var bomb bytes.Buffer
	g := gzip.NewWriter(&bomb)
	g.Write(make([]byte, 64<<20))
	must(t, g.Close())
	write(t, filepath.Join(folder, fleetmade.LogFolder, "bike-0001", "bomb.csv.gz"), bomb.Bytes())

	s := open(t, filepath.Join(t.TempDir(), "fleet.sqlite"))
	report, err := run(t, s, folder, Options{Jobs: 2, MaxTime: 4 * time.Second, MaxBytes: 2 << 20, Read: read})
	must(t, err)
	if report.Failed != 5 || report.Reviewed != 45 {
		t.Errorf("%+v, want 5 failed and 45 reviewed", report)
	}
	sums, err := s.Sums(context.Background(), store.Question{})
	must(t, err)
	var all string
	for _, p := range sums.Problems {
		all += p.Text + "\n"
	}
	for _, want := range []string{"took longer than 4s", "index out of range", "no good; at all", "larger than 2 MB"} {
		if !strings.Contains(all, want) {
			t.Errorf("no problem says %q:\n%s", want, all)
		}
	}
	if n := strings.Count(all, "larger than 2 MB"); n != 2 {
		t.Errorf("%d logs are too large, want the table and the bomb", n)
	}
}

// A stop that is asked for stores what is done, and the next run goes on.
func TestStopAndGoOn(t *testing.T) {
	folder, err := small()
	must(t, err)
	s := open(t, filepath.Join(t.TempDir(), "fleet.sqlite"))
	bikes, err := ReadBikes(filepath.Join(folder, fleetmade.ProfileFolder), "")
	must(t, err)
	found, err := Find([]string{filepath.Join(folder, fleetmade.LogFolder)})
	must(t, err)
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	var calls atomic.Int32
	report, err := Run(ctx, s, found, bikes, Options{Jobs: 2, Read: func(data []byte, name string) ([]*ride.Track, error) {
		if calls.Add(1) == 10 {
			stop()
		}
		return ingest.Read(data, name, ingest.Options{})
	}})
	if !errors.Is(err, context.Canceled) || report.Reviewed < 9 || report.Reviewed > 14 {
		t.Errorf("%+v, %v", report, err)
	}
	if stored := len(storetest.Read(t, s).Rides); stored != report.Rides {
		t.Errorf("%d rides stored, %d reviewed", stored, report.Rides)
	}
	rest, err := run(t, s, folder, Options{})
	must(t, err)
	if rest.Current != report.Reviewed || rest.Reviewed != 48-report.Reviewed {
		t.Errorf("first %+v, then %+v", report, rest)
	}
	if d := storetest.Diff(undisturbed(t, folder), storetest.Read(t, s)); d != "" {
		t.Errorf("rows differ (-undisturbed +stopped):\n%s", d)
	}
}

// A moved log is the same ride on another bike; nothing is lost or doubled.
func TestMovedLog(t *testing.T) {
	folder := fleetCopy(t)
	s := open(t, filepath.Join(t.TempDir(), "fleet.sqlite"))
	_, err := run(t, s, folder, Options{})
	must(t, err)
	logs, err := filepath.Glob(filepath.Join(folder, fleetmade.LogFolder, "bike-0001", "*.fit"))
	must(t, err)
	to := filepath.Join(folder, fleetmade.LogFolder, "bike-0777", "moved.fit")
	must(t, os.MkdirAll(filepath.Dir(to), 0o777))
	must(t, os.Rename(logs[0], to))
	report, err := run(t, s, folder, Options{})
	must(t, err)
	if report.Reviewed != 1 {
		t.Errorf("%+v", report)
	}
	rides := storetest.Read(t, s).Rides
	moved := 0
	for _, r := range rides {
		if r.Bike == "bike-0777" && r.Path == filepath.ToSlash(to) {
			moved++
		}
	}
	if len(rides) != 48 || moved != 1 {
		t.Errorf("%d rides, %d of the new bike", len(rides), moved)
	}
}

// A log without a bike is a problem until it has one.
func TestLogGetsItsBikeLater(t *testing.T) {
	folder := fleetCopy(t)
	profiles := filepath.Join(folder, fleetmade.ProfileFolder)
	must(t, os.Rename(filepath.Join(profiles, "default.yaml"), filepath.Join(profiles, "cargo.yaml")))
	write(t, filepath.Join(profiles, MapFile), []byte("bike,profile\nbike-0001,cargo\n"))
	s := open(t, filepath.Join(t.TempDir(), "fleet.sqlite"))
	report, err := run(t, s, folder, Options{})
	must(t, err)
	first := report.Reviewed
	if report.Failed != 48-first || first == 0 {
		t.Fatalf("%+v", report)
	}
	write(t, filepath.Join(profiles, MapFile), []byte("bike,profile\nbike-0001,cargo\nbike-0002,cargo\n"))
	if report, err = run(t, s, folder, Options{}); err != nil || report.Reviewed == 0 || report.Failed > 0 || report.Reviewed+report.Current != 48 {
		t.Errorf("%+v, %v", report, err)
	}
}
