package ingest_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"cogledger/ingest"
	"cogledger/ingest/ride"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write the golden files anew")

// made is a short ride of every kind of trouble: a pause, a hole, an impossible
// value, volts and amperes.
func made() *ride.Track {
	t := &ride.Track{
		Name:    "Harbour loop",
		Epoch:   time.Date(2026, 5, 4, 6, 30, 0, 0, time.UTC),
		Sources: []ride.Source{{File: "harbour.csv", Format: "CSV", Device: "drive logger", Made: true}},
		Shifts:  []ride.RecordedShift{{Second: 5, RearNumber: 4}},
	}
	t.Origins[ride.Speed] = ride.WheelSensor
	for k := range 200 {
		if k >= 100 && k < 140 {
			continue
		}
		t.Sample(float64(k))
		t.Put(ride.Speed, 5)
		if k < 20 || k > 40 {
			t.Put(ride.CadenceRPM, 70)
		}
		if k != 60 {
			t.Put(ride.BatteryVolts, 48)
		}
		t.Put(ride.BatteryAmps, float64(k%5))
		if k == 50 {
			t.Put(ride.MotorTemp, 4000)
		} else {
			t.Put(ride.MotorTemp, 60)
		}
	}
	return t
}

func TestInspectionText(t *testing.T) {
	in, err := ingest.Inspect(made())
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := in.Write(&b); err != nil {
		t.Fatal(err)
	}
	golden := filepath.Join("testdata", "inspection.txt")
	if *update {
		if err := os.WriteFile(golden, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), b.String()); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// A made log says so once, however its device is called.
func TestInspectionSaysMadeOnce(t *testing.T) {
	cases := []struct {
		source ride.Source
		want   string
	}{
		{ride.Source{File: "a.fit", Format: "FIT", Device: "made by simulation: made head unit", Made: true}, "a.fit, FIT, by head unit, made by simulation"},
		{ride.Source{File: "a.fit", Format: "FIT", Device: "made by simulation", Made: true}, "a.fit, FIT, made by simulation"},
		{ride.Source{File: "a.csv", Format: "CSV", Device: "made drive logger", Made: true}, "a.csv, CSV, by drive logger, made by simulation"},
		{ride.Source{File: "a.fit", Format: "FIT", Device: "made to measure"}, "a.fit, FIT, by made to measure"},
	}
	for _, c := range cases {
		track := made()
		track.Sources = []ride.Source{c.source}
		in, err := ingest.Inspect(track)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := in.Write(&b); err != nil {
			t.Fatal(err)
		}
		if line := strings.Split(b.String(), "\n")[1]; strings.TrimSpace(strings.TrimPrefix(line, "  log")) != c.want {
			t.Errorf("%q, want %q", line, c.want)
		}
	}
}

func TestInspectCounts(t *testing.T) {
	in, err := ingest.Inspect(made())
	if err != nil {
		t.Fatal(err)
	}
	if in.Seconds != 200 || in.PausedS != 40 || in.MovingS != 160 || in.Samples != 160 || in.EveryS != 1 || in.GapCount != 1 || in.Gaps[0] != (ingest.Gap{Second: 100, Seconds: 40}) {
		t.Errorf("%+v", in)
	}
	for _, c := range in.Channels {
		switch c.Channel {
		case ride.CadenceRPM:
			if c.LongestHoleS != 21 || c.Measured != 139./160 {
				t.Errorf("%+v", c)
			}
		case ride.BatteryVolts:
			if c.LongestHoleS != 0 || c.Interpolated != 1./160 {
				t.Errorf("%+v", c)
			}
		case ride.MotorTemp:
			if c.Top != 60 {
				t.Errorf("%+v", c)
			}
		}
	}
}
