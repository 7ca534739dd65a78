package fitlog_test

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"cogledger/ingest/fitlog"

	"github.com/tormoder/fit"
)

// The cost of reading a ride, beside that of the bare decoder on the same file.
func BenchmarkRead(b *testing.B) {
	for _, f := range []struct{ module, path string }{
		{tormoder, "testdata/bpg/garmin.fit"},
		{muktihari, "testdata/from_official_sdk/activity_developerdata.fit"},
	} {
		data, err := os.ReadFile(filepath.Join(module(b, f.module), f.path))
		if err != nil {
			b.Fatal(err)
		}
		b.Run("fitlog/"+filepath.Base(f.path), func(b *testing.B) {
			b.SetBytes(int64(len(data)))
			b.ReportAllocs()
			for b.Loop() {
				if _, err := fitlog.Read(data, "bench.fit", fitlog.Limits{}); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run("fitlog+ride/"+filepath.Base(f.path), func(b *testing.B) {
			b.SetBytes(int64(len(data)))
			for b.Loop() {
				tracks, err := fitlog.Read(data, "bench.fit", fitlog.Limits{})
				if err != nil {
					b.Fatal(err)
				}
				if _, err := tracks[0].Ride(); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run("tormoder/"+filepath.Base(f.path), func(b *testing.B) {
			b.SetBytes(int64(len(data)))
			b.ReportAllocs()
			for b.Loop() {
				if _, err := fit.Decode(bytes.NewReader(data)); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
