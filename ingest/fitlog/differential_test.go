package fitlog_test

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"cogledger/ingest/fitlog"
	"cogledger/ingest/ride"

	"github.com/muktihari/fit/decoder"
	"github.com/muktihari/fit/profile/basetype"
	"github.com/muktihari/fit/profile/mesgdef"
	"github.com/muktihari/fit/profile/untyped/mesgnum"
	"github.com/tormoder/fit"
)

// A row is one record as a reference decoder reads it.
type row struct {
	at     time.Time
	values [ride.ChannelCount]float64
}

// or is the value, or NaN where a field is invalid.
func or(valid bool, v float64) float64 {
	if !valid {
		return nan
	}
	return v
}

func firstKnown(a, b float64) float64 {
	if math.IsNaN(a) {
		return b
	}
	return a
}

// byMessages decodes a file by the typed messages of github.com/muktihari/fit,
// developer fields apart. It does not expand components: the expansion of speed
// 8.024 m/s says 8.023.
func byMessages(data []byte) (rows []row) {
	d := decoder.New(bytes.NewReader(data), decoder.WithIgnoreChecksum(), decoder.WithNoComponentExpansion())
	for d.Next() {
		file, err := d.Decode()
		if err != nil {
			return rows
		}
		for i := range file.Messages {
			if file.Messages[i].Num != mesgnum.Record {
				continue
			}
			m := mesgdef.NewRecord(&file.Messages[i])
			if m.Timestamp.IsZero() {
				continue
			}
			r := row{at: m.Timestamp}
			r.values = [ride.ChannelCount]float64{
				ride.Speed:         firstKnown(m.EnhancedSpeedScaled(), m.SpeedScaled()),
				ride.Distance:      m.DistanceScaled(),
				ride.CadenceRPM:    or(m.Cadence != basetype.Uint8Invalid, float64(m.Cadence)+or0(m.FractionalCadence)/128),
				ride.RiderPower:    or(m.Power != basetype.Uint16Invalid, float64(m.Power)),
				ride.MotorPower:    or(m.MotorPower != basetype.Uint16Invalid, float64(m.MotorPower)),
				ride.BatteryCharge: or(m.EbikeBatteryLevel != basetype.Uint8Invalid, float64(m.EbikeBatteryLevel)),
				ride.AirTemp:       or(m.Temperature != basetype.Sint8Invalid, float64(m.Temperature)),
				ride.Altitude:      firstKnown(m.EnhancedAltitudeScaled(), m.AltitudeScaled()),
				ride.Latitude:      m.PositionLatDegrees(),
				ride.Longitude:     m.PositionLongDegrees(),
				ride.BatteryVolts:  nan, ride.BatteryAmps: nan, ride.MotorRPM: nan, ride.MotorTemp: nan, ride.AssistLevel: nan,
			}
			rows = append(rows, r)
		}
	}
	return rows
}

func or0(fraction uint8) float64 {
	if fraction == math.MaxUint8 {
		return 0
	}
	return float64(fraction)
}

// byStandard decodes a file by github.com/tormoder/fit; nil if it refuses.
func byStandard(data []byte) (rows []row) {
	files, err := fit.DecodeChained(bytes.NewReader(data))
	if err != nil {
		return nil
	}
	for _, file := range files {
		activity, err := file.Activity()
		if err != nil {
			continue
		}
		for _, m := range activity.Records {
			if fit.IsBaseTime(m.Timestamp) {
				continue
			}
			r := row{at: m.Timestamp}
			r.values = [ride.ChannelCount]float64{
				ride.Speed:      firstKnown(m.GetEnhancedSpeedScaled(), m.GetSpeedScaled()),
				ride.Distance:   m.GetDistanceScaled(),
				ride.CadenceRPM: or(m.Cadence != math.MaxUint8, float64(m.Cadence)+or0(m.FractionalCadence)/128),
				ride.RiderPower: or(m.Power != math.MaxUint16, float64(m.Power)),
				ride.AirTemp:    or(m.Temperature != math.MaxInt8, float64(m.Temperature)),
				ride.Altitude:   firstKnown(m.GetEnhancedAltitudeScaled(), m.GetAltitudeScaled()),
				ride.Latitude:   m.PositionLat.Degrees(),
				ride.Longitude:  m.PositionLong.Degrees(),
				ride.MotorPower: nan, ride.BatteryCharge: nan, ride.BatteryVolts: nan, ride.BatteryAmps: nan, ride.MotorRPM: nan, ride.MotorTemp: nan, ride.AssistLevel: nan,
			}
			rows = append(rows, r)
		}
	}
	return rows
}

// Every reachable file, decoded independently by both libraries: each of our
// samples is theirs, channel by channel, and none is lost but those of other
// sports.
func TestAgainstIndependentDecoders(t *testing.T) {
	compared := map[string]int{}
	for _, path := range corpus(t) {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		tracks, err := fitlog.Read(data, filepath.Base(path), fitlog.Limits{})
		if err != nil {
			continue
		}
		for name, rows := range map[string][]row{"messages": byMessages(data), "standard": byStandard(data)} {
			if len(rows) == 0 || name == "standard" && filepath.Base(path) == "compressed-speed-distance.fit" {
				continue // that decoder adds up compressed distances over all files that it ever read
			}
			next, skipped := 0, 0
			for _, track := range tracks {
				epoch := track.Epoch
				if epoch.IsZero() {
					epoch = rows[0].at
				}
				for i, s := range track.Time {
					at := epoch.Add(time.Duration(s) * time.Second)
					for next < len(rows) && !rows[next].at.Equal(at) {
						next++
						skipped++
					}
					if next == len(rows) {
						t.Errorf("%s, %s: record %d at %v is not theirs", path, name, i, at)
						break
					}
					for c := range ride.ChannelCount {
						want, got := rows[next].values[c], nan
						if track.Values[c] != nil {
							got = track.Values[c][i]
						}
						if math.IsNaN(want) { // developer fields may fill what standard fields lack
							continue
						}
						if !(math.Abs(got-want) <= 1e-9*math.Max(1, math.Abs(want))) {
							t.Fatalf("%s, %s: record %d, %s: got %v, want %v", path, name, i, c, got, want)
						}
					}
					next++
				}
			}
			compared[name] += next - skipped
			skipped += len(rows) - next
			otherSports, damaged := said(tracks[0], "sports"), said(tracks[0], "byte ")
			if skipped > 0 && !otherSports && !damaged {
				t.Errorf("%s, %s: %d of %d records are lost", path, name, skipped, len(rows))
			}
		}
	}
	t.Logf("records compared: %v", compared)
	if compared["messages"] < 100_000 || compared["standard"] < 50_000 {
		t.Errorf("only %v records were compared", compared)
	}
}

func FuzzRead(f *testing.F) {
	f.Add(written(f, example()))
	f.Add(written(f, example())[:300])
	f.Add(append(written(f, example()), written(f, example())...))
	for _, path := range corpus(f) {
		if data, err := os.ReadFile(path); err == nil && len(data) < 8<<10 {
			f.Add(data)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		tracks, err := fitlog.Read(data, "f.fit", fitlog.Limits{Records: 10_000})
		if (err == nil) != (len(tracks) > 0) {
			t.Errorf("%d tracks, %v", len(tracks), err)
		}
		for _, track := range tracks {
			for c, column := range track.Values {
				if column != nil && len(column) != len(track.Time) {
					t.Errorf("%v: %d values for %d samples", ride.Channel(c), len(column), len(track.Time))
				}
			}
			if _, err := track.Ride(); err != nil {
				t.Error(err)
			}
		}
	})
}
