package tcxlog_test

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"cogledger/ingest/markup"
	"cogledger/ingest/ride"
	"cogledger/ingest/tcxlog"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

var nan = math.NaN()

func said(t *ride.Track, words string) bool {
	return slices.ContainsFunc(t.Notes, func(n ride.Note) bool { return strings.Contains(n.String(), words) })
}

func document(points string) string {
	return `<?xml version="1.0" encoding="UTF-8"?>
<TrainingCenterDatabase xmlns="urn:tcx" xmlns:e="urn:e">
<Activities><Activity Sport="Biking"><Id>2026-05-04T06:30:00Z</Id>
<Lap StartTime="2026-05-04T06:30:00Z"><DistanceMeters>99</DistanceMeters><Cadence>99</Cadence><Track>
` + points + `
</Track></Lap>
<Creator><Name>bench logger</Name><UnitId>17</UnitId></Creator></Activity></Activities></TrainingCenterDatabase>`
}

const two = `<Trackpoint><Time>2026-05-04T06:30:00Z</Time><Position><LatitudeDegrees>47.1</LatitudeDegrees><LongitudeDegrees>8.2</LongitudeDegrees></Position>
<AltitudeMeters>430.5</AltitudeMeters><DistanceMeters>0</DistanceMeters><HeartRateBpm><Value>120</Value></HeartRateBpm><Cadence>70</Cadence>
<Extensions><e:TPX><e:Speed>5.5</e:Speed><e:Watts>210</e:Watts></e:TPX></Extensions></Trackpoint>
<Trackpoint><Time>2026-05-04T08:30:01.500+02:00</Time><DistanceMeters>8.25</DistanceMeters></Trackpoint>
`

func TestRead(t *testing.T) {
	broken := strings.Index(document(two), "8.25")
	tests := []struct {
		reason, text string
		channel      ride.Channel
		time, want   []float64
		note         string
	}{
		{"position", document(two), ride.Longitude, []float64{0, 1.5}, []float64{8.2, nan}, ""},
		{"altitude", document(two), ride.Altitude, []float64{0, 1.5}, []float64{430.5, nan}, ""},
		{"distance", document(two), ride.Distance, []float64{0, 1.5}, []float64{0, 8.25}, ""},
		{"cadence", document(two), ride.CadenceRPM, []float64{0, 1.5}, []float64{70, nan}, ""},
		{"speed in an extension", document(two), ride.Speed, []float64{0, 1.5}, []float64{5.5, nan}, ""},
		{"power in an extension", document(two), ride.RiderPower, []float64{0, 1.5}, []float64{210, nan}, ""},
		{"time after the values", document(`<Trackpoint><Cadence>70</Cadence><Time>2026-05-04T06:30:00Z</Time></Trackpoint>`), ride.CadenceRPM, []float64{0}, []float64{70}, ""},
		{"a point without a time", document(`<Trackpoint><Cadence>70</Cadence></Trackpoint>` + two), ride.CadenceRPM, []float64{0, 1.5}, []float64{70, nan}, "1 points have no time"},
		{"a value that is none", document(`<Trackpoint><Time>2026-05-04T06:30:00Z</Time><Cadence>many</Cadence></Trackpoint>`), ride.CadenceRPM, []float64{0}, nil, "line 5: 1 values are no numbers"},
		{"cut inside a point", document(two)[:broken], ride.Distance, []float64{0}, []float64{0}, "the file ends early"},
		{"another sport", strings.Replace(document(two), "Biking", "Running", 1), ride.Distance, []float64{0, 1.5}, []float64{0, 8.25}, "not of cycling (Running)"},
	}
	for _, tt := range tests {
		tracks, err := tcxlog.Read([]byte(tt.text), "t.tcx", tcxlog.Limits{})
		if err != nil || len(tracks) != 1 {
			t.Errorf("%s: %d tracks, %v", tt.reason, len(tracks), err)
			continue
		}
		track := tracks[0]
		if diff := cmp.Diff(tt.time, track.Time); diff != "" {
			t.Errorf("%s: times (-want +got):\n%s", tt.reason, diff)
		}
		if diff := cmp.Diff(tt.want, track.Values[tt.channel], cmpopts.EquateNaNs()); diff != "" {
			t.Errorf("%s: values (-want +got):\n%s", tt.reason, diff)
		}
		if tt.note == "" && len(track.Notes) > 0 || tt.note != "" && !said(track, tt.note) {
			t.Errorf("%s: notes %q", tt.reason, track.Notes)
		}
		if want := time.Date(2026, 5, 4, 6, 30, 0, 0, time.UTC); !track.Epoch.Equal(want) {
			t.Errorf("%s: epoch %v", tt.reason, track.Epoch)
		}
	}
	tracks, err := tcxlog.Read([]byte(document(two)), "t.tcx", tcxlog.Limits{})
	if s := tracks[0].Sources[0]; err != nil || s.Device != "bench logger" || s.Serial != "17" {
		t.Errorf("%+v, %v", s, err)
	}
}

func TestErrors(t *testing.T) {
	tests := []struct {
		reason, text string
		is           error
		say          string
	}{
		{"entities", `<!DOCTYPE x [<!ENTITY a "b">]>` + document(two), markup.ErrEntities, "entities"},
		{"nested without end", document(two + strings.Repeat("<a>", 1000)), markup.ErrTooDeep, "deep"},
		{"another format", "<gpx/>", tcxlog.ErrNotTCX, "TrainingCenterDatabase"},
		{"no XML", "hello", tcxlog.ErrNotTCX, "t.tcx"},
		{"empty", document(""), tcxlog.ErrNoPoints, "course or a workout"},
		{"cut before the first point ends", document(two)[:600], tcxlog.ErrNoPoints, "line"},
	}
	for _, tt := range tests {
		_, err := tcxlog.Read([]byte(tt.text), "t.tcx", tcxlog.Limits{})
		if !errors.Is(err, tt.is) || !strings.Contains(err.Error(), tt.say) || !strings.HasPrefix(err.Error(), "t.tcx: ") {
			t.Errorf("%s: got %v", tt.reason, err)
		}
	}
	if _, err := tcxlog.Read(make([]byte, 100), "t.tcx", tcxlog.Limits{Bytes: 99}); !errors.Is(err, tcxlog.ErrTooLarge) {
		t.Errorf("got %v", err)
	}
	tracks, err := tcxlog.Read([]byte(document(two)), "t.tcx", tcxlog.Limits{Points: 1})
	if err != nil || len(tracks[0].Time) != 1 || !said(tracks[0], "more points than a ride can") {
		t.Errorf("%v, %v", tracks, err)
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(document(two)))
	f.Add([]byte(document(two)[:700]))
	f.Fuzz(func(t *testing.T, data []byte) {
		tracks, err := tcxlog.Read(data, "f.tcx", tcxlog.Limits{Points: 1000})
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
	var points strings.Builder
	for i := range 5000 {
		fmt.Fprintf(&points, "<Trackpoint><Time>2026-05-04T%02d:%02d:%02dZ</Time><Cadence>70</Cadence><DistanceMeters>%d</DistanceMeters><Extensions><e:TPX><e:Speed>5.5</e:Speed><e:Watts>210</e:Watts></e:TPX></Extensions></Trackpoint>\n", 6+i/3600, i/60%60, i%60, 5*i)
	}
	data := []byte(document(points.String()))
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := tcxlog.Read(data, "b.tcx", tcxlog.Limits{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/5000, "ns/point")
}
