package csvlog_test

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"cogledger/ingest/csvlog"
	"cogledger/ingest/ride"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

var nan = math.NaN()

func said(t *ride.Track, words string) bool {
	return slices.ContainsFunc(t.Notes, func(n ride.Note) bool { return strings.Contains(n.String(), words) })
}

func utf16(text string) string {
	b, err := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().String(text)
	if err != nil {
		panic(err)
	}
	return b
}

func TestRead(t *testing.T) {
	tests := []struct {
		reason, table string
		channel       ride.Channel
		time, want    []float64
		note          string // one that must be there; empty: there must be none
	}{
		{"commas", "elapsed_s,speed_kmh\n0,36\n1,18\n", ride.Speed, []float64{0, 1}, []float64{10, 5}, ""},
		{"semicolons and decimal commas", "elapsed_s;speed_kmh\n0,5;36,0\n1,5;18\n", ride.Speed, []float64{0.5, 1.5}, []float64{10, 5}, ""},
		{"tabs", "elapsed_s\tspeed_mps\n0\t3.5\n", ride.Speed, []float64{0}, []float64{3.5}, ""},
		{"commas with quoted decimal commas", "elapsed_s,speed_mps\n0,\"3,5\"\n1,\"4,5\"\n", ride.Speed, []float64{0, 1}, []float64{3.5, 4.5}, ""},
		{"byte order mark, DOS line ends", "\ufeffelapsed_s,cadence_rpm\r\n0,70\r\n", ride.CadenceRPM, []float64{0}, []float64{70}, ""},
		{"UTF-16", utf16("elapsed_s\tmotor_temp_c\n0\t61.5\n"), ride.MotorTemp, []float64{0}, []float64{61.5}, ""},
		{"missing values", "elapsed_s,cadence_rpm,battery_current_ma\n0,,1500\n1,NaN,-\n2,70,null\n", ride.BatteryAmps, []float64{0, 1, 2}, []float64{1.5, nan, nan}, ""},
		{"upper case and spaces in names", "Elapsed_S, Battery_Voltage_V \n0, 48.5\n", ride.BatteryVolts, []float64{0}, []float64{48.5}, ""},
		{"times with zones", "time,altitude_m\n2026-05-04T06:30:00+02:00,5\n2026-05-04T04:30:01.25Z,6\n", ride.Altitude, []float64{0, 1.25}, []float64{5, 6}, ""},
		{"times without a zone", "time,altitude_m\n2026-05-04 06:30:00,5\n2026-05-04 06:30:01,6\n", ride.Altitude, []float64{0, 1}, []float64{5, 6}, ""},
		{"seconds since 1970", "time_unix_ms,motor_rpm\n1777876200000,2400\n1777876200500,2410\n", ride.MotorRPM, []float64{0, 0.5}, []float64{2400, 2410}, ""},
		{"elapsed time as a clock shows it", "elapsed_s;cadence_rpm\n0:59:59,5;70\n1:00:01;71\n", ride.CadenceRPM, []float64{3599.5, 3601}, []float64{70, 71}, ""},
		{"a row that is no row", "elapsed_s,cadence_rpm\n0,70\nrubbish\n2,72\n", ride.CadenceRPM, []float64{0, 2}, []float64{70, 72}, `line 3: column "elapsed_s" holds "rubbish", which is no time`},
		{"a value that is no number", "elapsed_s,cadence_rpm\n0,70\n1,7O\n2,72\n", ride.CadenceRPM, []float64{0, 1, 2}, []float64{70, nan, 72}, `line 3: column "cadence_rpm" holds "7O"`},
		{"an open quote costs its row only", "elapsed_s,cadence_rpm\n0,70\n1,\"71\n2,72\n", ride.CadenceRPM, []float64{0, 1, 2}, []float64{70, 71, 72}, ""},
		{"a row too long", "elapsed_s,cadence_rpm\n0,70,99\n", ride.CadenceRPM, []float64{0}, []float64{70}, "line 2: the row has 3 fields and the header 2"},
		{"a row cut short", "elapsed_s,cadence_rpm,speed_mps\n0,70,3\n1,71", ride.Speed, []float64{0, 1}, []float64{3, nan}, ""},
		{"names as people spell them", "Time (s),Speed [km/h],Battery Voltage (V)\n0,36,48\n1,18,48\n", ride.Speed, []float64{0, 1}, []float64{10, 5}, ""},
		{"spelt, with a unit of something else", "elapsed_s,Speed (km/h),Motor speed (km/h)\n0,36,40\n", ride.Speed, []float64{0}, []float64{10}, `"Motor speed (km/h)"`},
		{"spelt, one channel twice", "elapsed_s,Speed (km/h),GPS speed (km/h)\n0,36,40\n", ride.Speed, []float64{0}, []float64{10}, `"GPS speed (km/h)"`},
		{"spelt, but not a value", "elapsed_s,speed_mps,Speed (avg)\n0,10,9\n", ride.Speed, []float64{0}, []float64{10}, `"Speed (avg)"`},
		{"a column of no known name", "elapsed_s,speed_mps,Batt U (V)\n0,1,48\n", ride.Speed, []float64{0}, []float64{1}, `"Batt U (V)" (it looks like battery_voltage)`},
		{"infinite is no number", "elapsed_s,speed_mps\n0,Inf\n", ride.Speed, []float64{0}, nil, "Inf"},
	}
	for _, tt := range tests {
		track, err := csvlog.Read([]byte(tt.table), "t.csv", csvlog.Options{})
		if err != nil {
			t.Errorf("%s: %v", tt.reason, err)
			continue
		}
		if diff := cmp.Diff(tt.time, track.Time, cmpopts.EquateApprox(0, 1e-6)); diff != "" {
			t.Errorf("%s: times (-want +got):\n%s", tt.reason, diff)
		}
		if diff := cmp.Diff(tt.want, track.Values[tt.channel], cmpopts.EquateNaNs(), cmpopts.EquateApprox(0, 1e-12)); diff != "" {
			t.Errorf("%s: values (-want +got):\n%s", tt.reason, diff)
		}
		if tt.note == "" && len(track.Notes) > 0 || tt.note != "" && !said(track, tt.note) {
			t.Errorf("%s: notes %q", tt.reason, track.Notes)
		}
	}
}

func TestOldCodePage(t *testing.T) {
	table, err := charmap.Windows1252.NewEncoder().String("elapsed_s,motor_temp_°c\n0,61\n")
	if err != nil {
		t.Fatal(err)
	}
	track, err := csvlog.Read([]byte(table), "t.csv", csvlog.Options{})
	if err != nil || track.Values[ride.MotorTemp][0] != 61 {
		t.Errorf("%v, %v", track, err)
	}
}

func TestEpoch(t *testing.T) {
	want := time.Date(2026, 5, 4, 6, 30, 0, 0, time.UTC)
	for _, table := range []string{
		"time,speed_mps\n2026-05-04T06:30:00Z,1\n",
		"time,elapsed_s,speed_mps\n2026-05-04T06:30:10Z,10,1\n",
		"elapsed_s,time,speed_mps\n10,2026-05-04T08:30:10+02:00,1\n",
	} {
		track, err := csvlog.Read([]byte(table), "t.csv", csvlog.Options{})
		if err != nil || !track.Epoch.Equal(want) {
			t.Errorf("%q: epoch %v, %v", table, track.Epoch, err)
		}
	}
}

func TestErrors(t *testing.T) {
	tests := []struct {
		reason, table string
		is            error
		say           []string
	}{
		{"a wrong unit", "elapsed_s,speed_furlongs\n0,1\n", csvlog.ErrColumn, []string{"t.csv", "line 1", `"speed_furlongs"`, "speed_mps", "speed_kmh", "speed_mph"}},
		{"a unit of something else", "# name: x\nelapsed_s,cadence_w\n0,1\n", csvlog.ErrColumn, []string{"t.csv", "line 2", `"cadence_w"`, "cadence_rpm"}},
		{"no unit", "elapsed_s,battery_current\n0,1\n", csvlog.ErrColumn, []string{"does not tell the unit", "battery_current_a", "battery_current_ma"}},
		{"one channel twice", "elapsed_s,speed_kmh,speed_mps\n0,1,1\n", csvlog.ErrColumn, []string{`"speed_kmh"`, `"speed_mps"`, "both hold speed"}},
		{"no time", "speed_kmh,cadence_rpm\n0,1\n", csvlog.ErrNotTable, []string{"no column of time", "elapsed_s"}},
		{"nothing of a ride", "time,shoe_size\n2026-05-04T06:30:00Z,44\n", csvlog.ErrNotTable, []string{"no column that a ride can use", `"shoe_size"`}},
		{"empty", "", csvlog.ErrNotTable, []string{"t.csv", "empty"}},
		{"a header alone", "elapsed_s,speed_kmh\n", csvlog.ErrNoRows, []string{"ends after the header"}},
		{"no row readable", "elapsed_s,speed_kmh\nx,1\n", csvlog.ErrNoRows, []string{`line 2`, `"x"`}},
		{"no text", "elapsed_s,\x00speed", csvlog.ErrNotTable, []string{"no text"}},
		{"too many columns", "elapsed_s" + strings.Repeat(",a", 300) + "\n", csvlog.ErrNotTable, []string{"301 columns"}},
	}
	for _, tt := range tests {
		_, err := csvlog.Read([]byte(tt.table), "t.csv", csvlog.Options{})
		if !errors.Is(err, tt.is) {
			t.Errorf("%s: got %v", tt.reason, err)
			continue
		}
		for _, words := range tt.say {
			if !strings.Contains(err.Error(), words) {
				t.Errorf("%s: %q does not say %q", tt.reason, err, words)
			}
		}
	}
	if _, err := csvlog.Read(make([]byte, 100), "t.csv", csvlog.Options{Bytes: 99}); !errors.Is(err, csvlog.ErrTooLarge) {
		t.Errorf("got %v", err)
	}
}

func TestManyTroublesAreCounted(t *testing.T) {
	table := "elapsed_s,speed_mps\n0,1\n" + strings.Repeat("x,1\n", 1000)
	track, err := csvlog.Read([]byte(table), "t.csv", csvlog.Options{})
	if err != nil || len(track.Notes) > 12 || !said(track, "990 more") {
		t.Errorf("%d notes, %v", len(track.Notes), err)
	}
	track, err = csvlog.Read([]byte("elapsed_s,speed_mps\n0,1\n1,1\n2,1\n"), "t.csv", csvlog.Options{Rows: 2})
	if err != nil || len(track.Time) != 2 || !said(track, "line 4: the table holds more rows") {
		t.Errorf("%v, %v", track.Notes, err)
	}
}

func TestEveryOwnNameIsRead(t *testing.T) {
	for _, name := range csvlog.Names() {
		table := "elapsed_s," + name + ",cadence_rpm\n0,1,70\n"
		switch {
		case strings.Contains(name, "time"), strings.HasPrefix(name, "elapsed"):
			continue
		case strings.HasPrefix(name, "cadence"):
			table = "elapsed_s," + name + "\n0,1\n"
		}
		track, err := csvlog.Read([]byte(table), "t.csv", csvlog.Options{})
		if err != nil || len(track.Notes) > 0 {
			t.Errorf("%s: %v, %v", name, err, track)
		}
	}
}

func TestColumnMap(t *testing.T) {
	columns, err := csvlog.ParseColumns([]byte(`
columns:
  Zeit:    {is: time, form: "DD.MM.YYYY hh:mm:ss", zone: "+02:00"}
  Batt mV: {is: battery_voltage, unit: mV}
  I:       {is: battery_current, unit: A, scale: -0.1, offset: 1}
  temp F:  {is: motor_temperature, unit: F}
  speed_kmh: {is: ignored}
  Rad km/h: {is: speed, unit: km/h}
`), "map.yaml")
	if err != nil {
		t.Fatal(err)
	}
	table := "Zeit;Batt mV;I;temp F;speed_kmh;Rad km/h\n04.05.2026 08:30:00;48500;-45;212;99;36\n04.05.2026 08:30:01;48400;-55;32;99;18\n"
	track, err := csvlog.Read([]byte(table), "t.csv", csvlog.Options{Columns: columns})
	if err != nil {
		t.Fatal(err)
	}
	if want := time.Date(2026, 5, 4, 6, 30, 0, 0, time.UTC); !track.Epoch.Equal(want) {
		t.Errorf("epoch %v, want %v", track.Epoch, want)
	}
	for c, want := range map[ride.Channel][]float64{
		ride.BatteryVolts: {48.5, 48.4}, ride.BatteryAmps: {5.5, 6.5}, ride.MotorTemp: {100, 0}, ride.Speed: {10, 5},
	} {
		if diff := cmp.Diff(want, track.Values[c], cmpopts.EquateApprox(0, 1e-9)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c, diff)
		}
	}
	if track, err = csvlog.Read([]byte("elapsed_s;cadence_rpm\n0;70\n"), "t.csv", csvlog.Options{Columns: columns}); err != nil || !said(track, `"Batt mV"`) {
		t.Errorf("a map that does not fit is said: %v, %v", track, err)
	}
}

func TestTimeOfDay(t *testing.T) {
	columns, err := csvlog.ParseColumns([]byte(`columns: {clock: {is: time, form: "hh:mm:ss"}}`), "m.yaml")
	if err != nil {
		t.Fatal(err)
	}
	track, err := csvlog.Read([]byte("clock,cadence_rpm\n06:30:00,70\n06:30:01,71\n"), "t.csv", csvlog.Options{Columns: columns})
	if err != nil || !track.Epoch.IsZero() || !slices.Equal(track.Time, []float64{23400, 23401}) {
		t.Errorf("%v, %v", track, err)
	}
}

func TestColumnMapErrors(t *testing.T) {
	tests := []struct{ reason, text, say string }{
		{"no channel", "columns: {a: {is: heartbeat}}", `"heartbeat" is neither`},
		{"wrong unit", "columns: {a: {is: speed, unit: V}}", `"V" is no unit of speed; accepted are mps, kmh, mph`},
		{"wrong time unit", "columns: {a: {is: elapsed, unit: V}}", "accepted are s, ms"},
		{"form without an hour", "columns: {a: {is: time, form: DD.MM.YYYY}}", "has no hour"},
		{"unknown zone", "columns: {a: {is: time, zone: Atlantis}}", `"Atlantis"`},
		{"unknown key", "columns: {a: {is: speed, units: V}}", "units"},
		{"empty", "", "names no columns"},
		{"alias", "columns: {a: &x {is: speed}, b: *x}", "anchors and aliases"},
		{"not YAML", "columns: [", "m.yaml"},
		{"too large", strings.Repeat("#", 70000), "limit 65536"},
	}
	for _, tt := range tests {
		_, err := csvlog.ParseColumns([]byte(tt.text), "m.yaml")
		if err == nil || !strings.Contains(err.Error(), tt.say) || !strings.Contains(err.Error(), "m.yaml") {
			t.Errorf("%s: got %v", tt.reason, err)
		}
	}
}

func made() *ride.Track {
	t := &ride.Track{
		Name:    "Harbour loop",
		Epoch:   time.Date(2026, 5, 4, 6, 30, 0, 0, time.UTC),
		Sources: []ride.Source{{File: "made.csv", Format: "CSV", Device: "drive logger", Made: true}},
	}
	t.Origins[ride.Speed] = ride.WheelSensor
	for i := range 20 {
		t.Sample(float64(i) / 2)
		for c := range ride.ChannelCount {
			if (i+int(c))%7 != 0 {
				t.Put(c, math.Round(1000*(1+float64(c)+math.Sin(float64(i))))/1000)
			}
		}
	}
	return t
}

func TestRoundTrip(t *testing.T) {
	want := made()
	var b bytes.Buffer
	if err := csvlog.Write(&b, want); err != nil {
		t.Fatal(err)
	}
	got, err := csvlog.Read(b.Bytes(), "made.csv", csvlog.Options{})
	if err != nil {
		t.Fatal(err)
	}
	want.Origins = got.Origins // the writer keeps that of speed alone
	if got.Origins[ride.Speed] != ride.WheelSensor {
		t.Errorf("speed from %v", got.Origins[ride.Speed])
	}
	if diff := cmp.Diff(want, got, cmpopts.EquateNaNs(), cmpopts.EquateApprox(0, 0.0051)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestWriteWithoutTime(t *testing.T) {
	track := made()
	track.Epoch, track.Name, track.Sources[0].Made = time.Time{}, "two\nlines", false
	var b bytes.Buffer
	if err := csvlog.Write(&b, track); err != nil {
		t.Fatal(err)
	}
	got, err := csvlog.Read(b.Bytes(), "made.csv", csvlog.Options{})
	if err != nil || !got.Epoch.IsZero() || got.Sources[0].Made || got.Name != "two lines" {
		t.Errorf("%v, %v", got, err)
	}
}

func FuzzRead(f *testing.F) {
	var b bytes.Buffer
	if err := csvlog.Write(&b, made()); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Add([]byte("elapsed_s;speed_kmh\n0,5;36,0\n"))
	f.Add([]byte("time,\"speed_kmh\"\n2026-05-04 06:30:00,\"3\n"))
	f.Add([]byte(utf16("time_unix_s\tlat\tlon\n1\t2\t3\n")))
	f.Fuzz(func(t *testing.T, data []byte) {
		track, err := csvlog.Read(data, "f.csv", csvlog.Options{Rows: 1000})
		if err != nil {
			if !strings.Contains(err.Error(), "f.csv") {
				t.Errorf("%v does not name the file", err)
			}
			return
		}
		for c, column := range track.Values {
			if column != nil && len(column) != len(track.Time) {
				t.Errorf("%v: %d values for %d samples", ride.Channel(c), len(column), len(track.Time))
			}
		}
		if _, err := track.Ride(); err != nil && !errors.Is(err, ride.ErrEmpty) {
			t.Error(err)
		}
	})
}

func FuzzParseColumns(f *testing.F) {
	f.Add([]byte("columns: {a: {is: speed, unit: km/h}}"))
	f.Add([]byte("columns: {a: &x {is: speed}, b: *x}"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if _, err := csvlog.ParseColumns(data, "m.yaml"); err != nil && !strings.Contains(err.Error(), "m.yaml") {
			t.Errorf("%v does not name the file", err)
		}
	})
}

func BenchmarkRead(b *testing.B) {
	var table bytes.Buffer
	fmt.Fprintln(&table, "time,speed_kmh,cadence_rpm,rider_power_w,battery_current_a,battery_voltage_v,motor_rpm")
	start := time.Date(2026, 5, 4, 6, 30, 0, 0, time.UTC)
	for i := range 10_000 {
		fmt.Fprintf(&table, "%s,%.2f,%d,%d,%.3f,%.2f,%d\n", start.Add(time.Duration(i)*time.Second).Format(time.RFC3339), 21.5, 71, 120, 5.25, 48.11, 2450)
	}
	b.SetBytes(int64(table.Len()))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := csvlog.Read(table.Bytes(), "b.csv", csvlog.Options{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/10_000, "ns/row")
}
