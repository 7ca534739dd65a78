package fitlog_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"cogledger/ingest/fitlog"
	"cogledger/ingest/ride"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/tormoder/fit"
	"github.com/tormoder/fit/dyncrc16"
)

var nan = math.NaN()

// example is a track with every channel and two holes.
func example() *ride.Track {
	t := &ride.Track{
		Name:    "made.fit",
		Epoch:   time.Date(2026, 5, 4, 6, 30, 0, 0, time.UTC),
		Sources: []ride.Source{{File: "made.fit", Format: "FIT", Device: "made by simulation", Made: true}},
		Shifts:  []ride.RecordedShift{{Second: 3, RearNumber: 5, RearTeeth: 15, FrontNumber: 2, FrontTeeth: 34}},
	}
	t.Origins[ride.Speed] = ride.WheelSensor
	for i := range 10 {
		s := float64(i)
		t.Sample(s)
		for c, v := range map[ride.Channel]float64{
			ride.Speed: 5.125 + s, ride.Distance: 10.25 * s, ride.CadenceRPM: 70 + s/2, ride.RiderPower: 100 + s,
			ride.MotorPower: 200 + s, ride.BatteryVolts: 48.5 - s/8, ride.BatteryAmps: 5.25 - s, ride.BatteryCharge: 80,
			ride.MotorRPM: 2400 + s, ride.MotorTemp: 61.5, ride.AirTemp: 18, ride.AssistLevel: 2, ride.Altitude: 320.4 + s,
			ride.Latitude: 45, ride.Longitude: -90 + s/1000,
		} {
			if i == 4 && c == ride.CadenceRPM || i == 6 && c == ride.BatteryVolts {
				v = nan
			}
			t.Put(c, v)
		}
	}
	return t
}

func written(t testing.TB, track *ride.Track) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := fitlog.Write(&b, track); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// said reports whether a note of the track holds the words.
func said(t *ride.Track, words string) bool {
	return slices.ContainsFunc(t.Notes, func(n ride.Note) bool { return strings.Contains(n.String(), words) })
}

// What the writer writes the reader reads, to the protocol's resolution.
func TestRoundTrip(t *testing.T) {
	want := example()
	tracks, err := fitlog.Read(written(t, want), "made.fit", fitlog.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	got := tracks[0]
	resolution := [ride.ChannelCount]float64{
		ride.Speed: 0.0005, ride.Distance: 0.005, ride.CadenceRPM: 1. / 256, ride.Altitude: 0.1,
		ride.Latitude: 180. / (1 << 31), ride.Longitude: 180. / (1 << 31),
	}
	for c := range ride.ChannelCount {
		if diff := cmp.Diff(want.Values[c], got.Values[c], cmpopts.EquateNaNs(), cmpopts.EquateApprox(0, resolution[c]+1e-6)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c, diff)
		}
	}
	if diff := cmp.Diff(want.Shifts, got.Shifts); diff != "" {
		t.Errorf("shifts (-want +got):\n%s", diff)
	}
	if !got.Epoch.Equal(want.Epoch) || got.Origins[ride.Speed] != ride.WheelSensor {
		t.Errorf("epoch %v, speed from %v", got.Epoch, got.Origins[ride.Speed])
	}
	if s := got.Sources[0]; !s.Made || s.Format != "FIT" {
		t.Errorf("source %+v must say that it was made", s)
	}
	if len(got.Notes) > 0 {
		t.Errorf("notes %v", got.Notes)
	}
}

func TestOnlyMadeRidesSaySo(t *testing.T) {
	track := example()
	track.Sources[0].Made, track.Sources[0].Device = false, "bench logger"
	tracks, err := fitlog.Read(written(t, track), "x.fit", fitlog.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	if s := tracks[0].Sources[0]; s.Made || s.Device != "bench logger" {
		t.Errorf("source %+v", s)
	}
}

// An independent decoder reads the standard fields of a written file.
func TestWrittenFileIsStandard(t *testing.T) {
	data := written(t, example())
	if err := fit.CheckIntegrity(bytes.NewReader(data), false); err != nil {
		t.Fatal(err)
	}
	file, err := fit.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	activity, err := file.Activity()
	if err != nil {
		t.Fatal(err)
	}
	if n := len(activity.Records); n != 10 {
		t.Errorf("%d records", n)
	}
	// FIT protocol: 2^31 semicircles are 180°.
	if got := activity.Records[0].PositionLat.Semicircles(); got != 536870912 {
		t.Errorf("45° is %d semicircles, want 536870912", got)
	}
	// FIT protocol: rear 5 with 15 teeth, front 2 with 34 teeth.
	shifts := 0
	for _, e := range activity.Events {
		if e.Event == fit.EventRearGearChange {
			shifts++
			if e.Data != 570560261 || e.RearGearNum != 5 || e.RearGear != 15 || e.FrontGearNum != 2 || e.FrontGear != 34 {
				t.Errorf("gear change %+v", e)
			}
		}
	}
	if shifts != 1 || len(activity.Sessions) != 1 || len(activity.Laps) != 1 || activity.Activity == nil {
		t.Errorf("%d shifts, %d sessions, %d laps", shifts, len(activity.Sessions), len(activity.Laps))
	}
}

// CRC-16 with the polynomial of the FIT protocol: the check value of the
// catalogue of parametrised CRC algorithms (CRC-16/ARC) is 0xBB3D.
func TestChecksum(t *testing.T) {
	if got := dyncrc16.Checksum([]byte("123456789")); got != 0xBB3D {
		t.Fatalf("check value %#x, want 0xBB3D", got)
	}
	data := written(t, example())
	end := len(data) - 2
	if got, want := binary.LittleEndian.Uint16(data[end:]), dyncrc16.Checksum(data[:end]); got != want {
		t.Errorf("file checksum %#x, want %#x", got, want)
	}
}

func TestGearChange(t *testing.T) {
	tests := []struct {
		reason string
		data   uint32
		want   ride.RecordedShift
	}{
		{"FIT protocol, components of gear_change_data", 570560261, ride.RecordedShift{RearNumber: 5, RearTeeth: 15, FrontNumber: 2, FrontTeeth: 34}},
		{"255 and 0 tell nothing", 0xff0000ff, ride.RecordedShift{}},
		{"no front known", 0x0000_1c03, ride.RecordedShift{RearNumber: 3, RearTeeth: 28}},
		{"teeth that no bike has", 5 | 200<<8 | 7<<16 | 2<<24, ride.RecordedShift{RearNumber: 5}},
	}
	for _, tt := range tests {
		if diff := cmp.Diff(tt.want, fitlog.GearChange(tt.data)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", tt.reason, diff)
		}
	}
}

func TestSeveralShiftsInOneSecond(t *testing.T) {
	track := example()
	track.Shifts = append(track.Shifts, ride.RecordedShift{Second: 3.2, RearNumber: 6, RearTeeth: 13})
	tracks, err := fitlog.Read(written(t, track), "x.fit", fitlog.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	if s := tracks[0].Shifts; len(s) != 1 || s[0].RearNumber != 6 {
		t.Errorf("the last counts, got %+v", s)
	}
}

// Before its clock is set, a device counts from when it was switched on: FIT
// times below 0x10000000.
func TestClockNotSet(t *testing.T) {
	track := example()
	track.Epoch = time.Date(1990, 1, 1, 0, 0, 0, 0, time.UTC)
	tracks, err := fitlog.Read(written(t, track), "x.fit", fitlog.Limits{})
	if err != nil || !tracks[0].Epoch.IsZero() || !said(tracks[0], "clock was not set") {
		t.Errorf("%v, epoch %v, %v", err, tracks[0].Epoch, tracks[0].Notes)
	}
	// Set on the way, the rest of the log has its time.
	for i := 3; i < 10; i++ {
		track.Time[i] += 1e9
	}
	tracks, err = fitlog.Read(written(t, track), "x.fit", fitlog.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	r, err := tracks[0].Ride()
	if want := track.Epoch.Add(1e9*time.Second + 3*time.Second); err != nil || r.Len() != 7 || !r.Start.Equal(want) {
		t.Errorf("%v, %d s from %v, want 7 from %v", err, r.Len(), r.Start, want)
	}
}

func TestWriteNeedsTime(t *testing.T) {
	track := example()
	track.Epoch = time.Time{}
	if err := fitlog.Write(&bytes.Buffer{}, track); !errors.Is(err, fitlog.ErrNoTime) {
		t.Errorf("got %v", err)
	}
	if err := fitlog.Write(&bytes.Buffer{}, &ride.Track{Epoch: time.Now()}); !errors.Is(err, ride.ErrEmpty) {
		t.Errorf("got %v", err)
	}
}

// Cut anywhere, a file gives the records before the cut and says so.
func TestTruncated(t *testing.T) {
	data := written(t, example())
	for cut := range len(data) {
		tracks, err := fitlog.Read(data[:cut], "cut.fit", fitlog.Limits{})
		if err != nil {
			if !errors.Is(err, fitlog.ErrNotFIT) && !errors.Is(err, fitlog.ErrNoRecords) {
				t.Errorf("cut at %d: %v", cut, err)
			}
			continue
		}
		for i, s := range tracks[0].Time {
			if s != float64(i) {
				t.Fatalf("cut at %d: record %d at %v s", cut, i, s)
			}
		}
		if !said(tracks[0], "cut.fit: byte ") {
			t.Errorf("cut at %d: notes %v", cut, tracks[0].Notes)
		}
	}
	whole, _ := fitlog.Read(data[:len(data)-2], "cut.fit", fitlog.Limits{})
	if n := len(whole[0].Time); n != 10 {
		t.Errorf("without its checksum the file gives %d records, want 10", n)
	}
}

func TestDamage(t *testing.T) {
	sound := written(t, example())
	tests := []struct {
		reason  string
		spoil   func(b []byte) []byte
		records int
		note    string
	}{
		{"nothing wrong", func(b []byte) []byte { return b }, 10, ""},
		{"wrong checksum", func(b []byte) []byte { b[len(b)-1] ^= 1; return b }, 10, "checksum is wrong"},
		{"wrong header checksum", func(b []byte) []byte { b[12] ^= 1; return b }, 10, "header's checksum"},
		{"size never written", func(b []byte) []byte { copy(b[4:8], []byte{0, 0, 0, 0}); return b[:len(b)-2] }, 10, "byte 4: the header does not tell the size"},
		{"header's size spoilt", func(b []byte) []byte { b[0] = 77; return b }, 10, "header's size reads 77"},
		{"something before the file", func(b []byte) []byte { return append([]byte("junk"), b...) }, 10, "byte 0: 4 bytes that are no FIT file"},
		{"something after the file", func(b []byte) []byte { return append(b, "junk at the end"...) }, 10, "15 bytes from here on"},
	}
	for _, tt := range tests {
		tracks, err := fitlog.Read(tt.spoil(bytes.Clone(sound)), "spoilt.fit", fitlog.Limits{})
		if err != nil {
			t.Errorf("%s: %v", tt.reason, err)
			continue
		}
		if n := len(tracks[0].Time); n != tt.records {
			t.Errorf("%s: %d records, want %d", tt.reason, n, tt.records)
		}
		if tt.note == "" && len(tracks[0].Notes) > 0 || tt.note != "" && !said(tracks[0], tt.note) {
			t.Errorf("%s: notes %v", tt.reason, tracks[0].Notes)
		}
	}
}

func TestChained(t *testing.T) {
	second := example()
	second.Epoch = second.Epoch.Add(time.Hour)
	chain := append(written(t, example()), written(t, second)...)
	tracks, err := fitlog.Read(chain, "two.fit", fitlog.Limits{})
	if err != nil || len(tracks) != 2 {
		t.Fatalf("%d tracks, %v", len(tracks), err)
	}
	if !tracks[1].Epoch.Equal(second.Epoch) || tracks[1].Name != "two.fit, part 2" {
		t.Errorf("second part %q at %v", tracks[1].Name, tracks[1].Epoch)
	}
	// Damage in the first does not lose the second.
	chain[len(chain)/2-40] = 0x0f
	tracks, err = fitlog.Read(chain, "two.fit", fitlog.Limits{})
	if err != nil || len(tracks) != 2 || len(tracks[1].Time) != 10 {
		t.Errorf("%d tracks, %v", len(tracks), err)
	}
}

func TestLimits(t *testing.T) {
	data := written(t, example())
	if _, err := fitlog.Read(data, "big.fit", fitlog.Limits{Bytes: 100}); !errors.Is(err, fitlog.ErrTooLarge) || !strings.Contains(err.Error(), "big.fit") {
		t.Errorf("got %v", err)
	}
	tracks, err := fitlog.Read(data, "long.fit", fitlog.Limits{Records: 4})
	if err != nil || len(tracks[0].Time) != 4 || !said(tracks[0], "more records") {
		t.Errorf("%v, %v", err, tracks)
	}
}
