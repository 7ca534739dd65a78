package ride_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"cogledger/ingest/ride"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

var nan = math.NaN()

// track makes a track of one channel.
func track(c ride.Channel, times, values []float64) *ride.Track {
	t := &ride.Track{Epoch: time.Unix(1_700_000_000, 0).UTC(), Sources: []ride.Source{{File: "made.csv", Format: "CSV"}}}
	for i, s := range times {
		t.Sample(s)
		t.Put(c, values[i])
	}
	return t
}

func mustRide(t testing.TB, track *ride.Track) *ride.Ride {
	t.Helper()
	r, err := track.Ride()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func noted(notes []ride.Note, word string) bool {
	return slices.ContainsFunc(notes, func(n ride.Note) bool { return strings.Contains(n.String(), word) })
}

func TestRideClock(t *testing.T) {
	const me, in, no = ride.Measured, ride.Interpolated, ride.Missing
	tests := []struct {
		reason       string
		channel      ride.Channel
		time, values []float64
		want         []float64
		marks        []ride.Mark
		note         string
	}{
		{"one sample a second", ride.CadenceRPM, []float64{5, 6, 7}, []float64{60, 61, 62}, []float64{60, 61, 62}, []ride.Mark{me, me, me}, ""},
		{"a short gap runs on a straight line", ride.CadenceRPM, []float64{0, 4}, []float64{60, 80}, []float64{60, 65, 70, 75, 80}, []ride.Mark{me, in, in, in, me}, ""},
		{"an assist level holds across a gap", ride.AssistLevel, []float64{0, 3}, []float64{1, 3}, []float64{1, 1, 1, 3}, []ride.Mark{me, in, in, me}, ""},
		{"a flow takes the mean of its second", ride.BatteryAmps, []float64{0, 0.7, 0.9, 1.2, 2}, []float64{4, 1, 2, 6, 5}, []float64{4, 3, 5}, []ride.Mark{me, me, me}, ""},
		{"a standing takes the last of its second", ride.BatteryCharge, []float64{0, 0.7, 0.9, 1.2, 2}, []float64{94, 91, 92, 90, 89}, []float64{94, 90, 89}, []ride.Mark{me, me, me}, ""},
		{"nothing is invented before the first value", ride.Altitude, []float64{0, 2}, []float64{nan, 3}, []float64{nan, nan, 3}, []ride.Mark{no, no, me}, ""},
		{"what cannot be is dropped", ride.CadenceRPM, []float64{0, 1, 2}, []float64{60, 251, 62}, []float64{60, 61, 62}, []ride.Mark{me, in, me}, "second 1: cadence 251 rpm"},
		{"the limit itself can be", ride.CadenceRPM, []float64{0, 1}, []float64{60, 250}, []float64{60, 250}, []ride.Mark{me, me}, ""},
		{"late samples are sorted in", ride.CadenceRPM, []float64{0, 2, 1, 3}, []float64{60, 62, 61, 63}, []float64{60, 61, 62, 63}, []ride.Mark{me, me, me, me}, "late"},
		{"the later of two at one time wins", ride.CadenceRPM, []float64{0, 1, 1, 2}, []float64{60, 61, 71, 62}, []float64{60, 71, 62}, []ride.Mark{me, me, me}, "repeat"},
		{"a log written newest first", ride.CadenceRPM, []float64{3, 2, 1, 0}, []float64{63, 62, 61, 60}, []float64{60, 61, 62, 63}, []ride.Mark{me, me, me, me}, "not in order"},
		{"damaged times are left out", ride.CadenceRPM, []float64{0, 1e9, 1, -1e9, 2}, []float64{60, 99, 61, 99, 62}, []float64{60, 61, 62}, []ride.Mark{me, me, me}, "2 samples are hours off"},
		{"samples without a time are left out", ride.CadenceRPM, []float64{0, nan, 1}, []float64{60, 99, 61}, []float64{60, 61}, []ride.Mark{me, me}, "have no time"},
	}
	for _, tt := range tests {
		r := mustRide(t, track(tt.channel, tt.time, tt.values))
		if diff := cmp.Diff(tt.want, r.Column(tt.channel), cmpopts.EquateNaNs(), cmpopts.EquateApprox(0, 1e-12)); diff != "" {
			t.Errorf("%s: values (-want +got):\n%s", tt.reason, diff)
		}
		if diff := cmp.Diff(tt.marks, r.Marks(tt.channel)); diff != "" {
			t.Errorf("%s: marks (-want +got):\n%s", tt.reason, diff)
		}
		if tt.note != "" && !noted(r.Notes, tt.note) {
			t.Errorf("%s: no note with %q in %v", tt.reason, tt.note, r.Notes)
		}
	}
}

func TestPauses(t *testing.T) {
	r := mustRide(t, track(ride.CadenceRPM, []float64{0, 10, 21, 22}, []float64{60, 70, 80, 81}))
	var paused []int
	for k := range r.Len() {
		if r.Paused(k) {
			paused = append(paused, k)
			if v := r.At(ride.CadenceRPM, k); !math.IsNaN(v) {
				t.Errorf("second %d is paused and holds %v", k, v)
			}
		}
	}
	if want := []int{11, 12, 13, 14, 15, 16, 17, 18, 19, 20}; !slices.Equal(paused, want) {
		t.Errorf("paused %v, want %v", paused, want)
	}
	if v := r.At(ride.CadenceRPM, 5); v != 65 {
		t.Errorf("a gap of ten seconds is bridged: got %v, want 65", v)
	}
}

func TestClockSetBack(t *testing.T) {
	var times, values []float64
	for i := range 100 {
		times, values = append(times, float64(i)), append(values, float64(i))
	}
	for i := range 300 {
		times, values = append(times, float64(i-5000)), append(values, float64(100+i%100))
	}
	r := mustRide(t, track(ride.CadenceRPM, times, values))
	if r.Len() != 400 {
		t.Fatalf("got %d s, want all 400", r.Len())
	}
	for k, v := range r.Column(ride.CadenceRPM) {
		if v != values[k] {
			t.Fatalf("second %d: got %v, want %v", k, v, values[k])
		}
	}
	// The longer stretch keeps its own time: it began 5000 s before the epoch.
	if want := time.Unix(1_700_000_000-5100, 0).UTC(); !r.Start.Equal(want) {
		t.Errorf("start %v, want %v", r.Start, want)
	}
	if !noted(r.Notes, "sample 101: the clock runs back by 5099 s") {
		t.Errorf("notes: %v", r.Notes)
	}
}

func TestStretchWrittenTwice(t *testing.T) {
	var times, values []float64
	for i := range 200 {
		if i == 150 {
			for j := 100; j < 150; j++ {
				times, values = append(times, float64(j)), append(values, float64(j))
			}
		}
		times, values = append(times, float64(i)), append(values, float64(i))
	}
	r := mustRide(t, track(ride.CadenceRPM, times, values))
	if r.Len() != 200 {
		t.Fatalf("got %d s, want 200", r.Len())
	}
}

func TestLogLeftOn(t *testing.T) {
	var times, values []float64
	for i := range 4 * 24 * 360 {
		times, values = append(times, float64(i)*10), append(values, 60)
	}
	r := mustRide(t, track(ride.CadenceRPM, times, values))
	if r.Len() > ride.LongestRide {
		t.Errorf("got %d s, more than %d", r.Len(), ride.LongestRide)
	}
	if !noted(r.Notes, "left out") {
		t.Errorf("notes: %v", r.Notes)
	}
}

func TestSplit(t *testing.T) {
	// A device whose clock was not yet set writes two samples in 1989.
	whole := track(ride.CadenceRPM, []float64{-1e9, -1e9 + 1, 0, 1, 2}, []float64{50, 51, 60, 61, 62})
	if pieces := whole.Split(); len(pieces) != 1 || len(pieces[0].Time) != 3 || !noted(pieces[0].Notes, "2 samples stand in pieces of fewer than 3") {
		t.Fatalf("got %d pieces", len(pieces))
	}
	r := mustRide(t, whole)
	if r.Len() != 3 || r.At(ride.CadenceRPM, 0) != 60 || !noted(r.Notes, "silent") {
		t.Errorf("got %d s, notes %v", r.Len(), r.Notes)
	}
}

func TestSplitWeek(t *testing.T) {
	var times, values []float64
	for day := range 7 {
		for i := range 20 + day {
			times, values = append(times, float64(86400*day+i)), append(values, 60)
		}
	}
	pieces := track(ride.CadenceRPM, times, values).Split()
	if len(pieces) != 7 || len(pieces[6].Time) != 26 || pieces[6].Time[0] != 6*86400 {
		t.Errorf("got %d pieces", len(pieces))
	}
	// A log of nothing but silences must not grow into thousands of rides.
	times, values = nil, nil
	for i := range 5000 {
		times, values = append(times, float64(i)*1e5), append(values, 60)
	}
	if pieces := track(ride.CadenceRPM, times, values).Split(); len(pieces) > 400 || !noted(pieces[0].Notes, "left out") {
		t.Errorf("got %d pieces", len(pieces))
	}
}

func TestEmpty(t *testing.T) {
	if _, err := (&ride.Track{}).Ride(); !errors.Is(err, ride.ErrEmpty) {
		t.Errorf("got %v", err)
	}
	if _, err := track(ride.Speed, []float64{nan, math.Inf(1)}, []float64{1, 2}).Ride(); !errors.Is(err, ride.ErrEmpty) {
		t.Errorf("got %v", err)
	}
}

func TestRideHoldsItsPromises(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 80).Draw(t, "samples")
		in := &ride.Track{}
		for range n {
			in.Sample(rapid.OneOf(rapid.Float64Range(-50, 300), rapid.Float64()).Draw(t, "time"))
			for range rapid.IntRange(0, 4).Draw(t, "channels") {
				c := rapid.Uint8Range(0, uint8(ride.ChannelCount)-1).Draw(t, "channel")
				in.Put(ride.Channel(c), rapid.OneOf(rapid.Float64Range(-10, 100), rapid.Float64()).Draw(t, "value"))
			}
		}
		r, err := in.Ride()
		if errors.Is(err, ride.ErrEmpty) {
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if r.Len() > ride.LongestRide {
			t.Fatalf("%d s", r.Len())
		}
		distance := math.Inf(-1)
		for _, c := range r.Channels() {
			low, high := c.Plausible()
			if c == ride.Distance { // a counter that began anew goes on above any single value
				high = math.Inf(1)
			}
			for k, v := range r.Column(c) {
				if math.IsNaN(v) != (r.Marks(c)[k] == ride.Missing) {
					t.Fatalf("%s at %d: %v marked %v", c, k, v, r.Marks(c)[k])
				}
				if v < low || v > high {
					t.Fatalf("%s at %d: %v", c, k, v)
				}
				if c == ride.Distance && !math.IsNaN(v) {
					if v < distance {
						t.Fatalf("distance falls from %v to %v", distance, v)
					}
					distance = v
				}
			}
		}
	})
}
