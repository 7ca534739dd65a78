package gears_test

import (
	"bytes"
	"os"
	"testing"

	"github.com/tormoder/fit"

	"cogledger/analysis/gears"
)

// longRide is a million seconds of riding on 22 gears.
const longRide = 1_000_000

// BenchmarkInfer names the gears of a million seconds on 22 gears. Set it
// beside BenchmarkDecode of the same run: ns/s against ns/record.
func BenchmarkInfer(b *testing.B) {
	for _, ridden := range []struct {
		name    string
		seconds int
	}{{"hour", 3600}, {"three hours", 10800}, {"million", longRide}} {
		b.Run(ridden.name, func(b *testing.B) {
			p, size := wideDouble(), ridden.seconds
			r, _ := madeRide(p, setups()["satellite"], size, 1)
			b.ReportAllocs()
			b.ResetTimer()
			for b.Loop() {
				if _, err := gears.Infer(r, p, gears.Options{}); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(size), "ns/s")
		})
	}
}

// BenchmarkDecode reads a real ride with the FIT decoder.
func BenchmarkDecode(b *testing.B) {
	data, err := os.ReadFile(moduleFile(b, "github.com/tormoder/fit", "testdata/bpg/garmin.fit"))
	if err != nil {
		b.Fatal(err)
	}
	records := 0
	for b.Loop() {
		file, err := fit.Decode(bytes.NewReader(data))
		if err != nil {
			b.Fatal(err)
		}
		act, err := file.Activity()
		if err != nil {
			b.Fatal(err)
		}
		records = len(act.Records)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(records), "ns/record")
}
