package fitlog_test

import (
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"cogledger/ingest/fitlog"
	"cogledger/ingest/ride"
)

// A recorded ride, damaged in the middle of its records: what stands behind the
// damage is read too.
func TestDamageInTheMiddle(t *testing.T) {
	path := filepath.Join(module(t, tormoder), "testdata/bpg/garmin.fit")
	sound, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	whole, err := fitlog.Read(sound, "sound.fit", fitlog.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	// Each sound record by its time.
	known := map[float64]float64{}
	for i, s := range whole[0].Time {
		known[s] = whole[0].Values[ride.Distance][i]
	}
	rng := rand.New(rand.NewPCG(1, 1))
	noise := make([]byte, 512)
	for i := range noise {
		noise[i] = byte(rng.Uint32())
	}
	tests := []struct {
		reason string
		spoil  func(b []byte, at int) []byte
		lost   int // records at most
	}{
		{"a block of noughts", func(b []byte, at int) []byte { clear(b[at : at+512]); return b }, 40},
		{"a block of ones", func(b []byte, at int) []byte { copy(b[at:], bytes.Repeat([]byte{0xff}, 512)); return b }, 40},
		{"a block of noise", func(b []byte, at int) []byte { copy(b[at:], noise); return b }, 40},
		{"seven bytes lost", func(b []byte, at int) []byte { return slices.Delete(b, at, at+7) }, 40},
		{"a block lost", func(b []byte, at int) []byte { return slices.Delete(b, at, at+512) }, 40},
		{"five bytes too many", func(b []byte, at int) []byte { return slices.Insert(b, at, noise[:5]...) }, 40},
	}
	for _, tt := range tests {
		for _, at := range []int{100_003, 250_000, 400_017} {
			tracks, err := fitlog.Read(tt.spoil(bytes.Clone(sound), at), "spoilt.fit", fitlog.Limits{})
			if err != nil || len(tracks) != 1 {
				t.Errorf("%s at %d: %d tracks, %v", tt.reason, at, len(tracks), err)
				continue
			}
			if lost := len(whole[0].Time) - len(tracks[0].Time); lost > tt.lost {
				t.Errorf("%s at %d: %d records lost; %v", tt.reason, at, lost, tracks[0].Notes)
			}
			if !said(tracks[0], "spoilt.fit: byte ") {
				t.Errorf("%s at %d: notes %v", tt.reason, at, tracks[0].Notes)
			}
			strange := 0
			for i, s := range tracks[0].Time {
				if d, ok := known[s]; !ok || d != tracks[0].Values[ride.Distance][i] {
					strange++
				}
			}
			if strange > 20 {
				t.Errorf("%s at %d: %d records are none of the ride's", tt.reason, at, strange)
			}
			if r, err := tracks[0].Ride(); err != nil || r.Len() != 10135 {
				t.Errorf("%s at %d: the ride is %d s long, %v; %v", tt.reason, at, r.Len(), err, r.Notes)
			}
		}
	}
}
