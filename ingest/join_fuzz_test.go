package ingest_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"cogledger/ingest"
	"cogledger/ingest/ride"
)

// FuzzJoin lays any two logs on one another, by themselves and by hand.
func FuzzJoin(f *testing.F) {
	short := shuffledSpeed(400)
	f.Add([]byte(short), []byte(short), false, 0.0, 0.0)
	f.Add([]byte(tableLog), []byte(gpxLog), true, -3.5, 20.0)
	f.Add([]byte(tcxLog), fitLog(f), true, 1e300, math.Inf(1))
	f.Add([]byte("elapsed_s,speed_kmh\n0,1\n86400,2\n"), []byte("elapsed_s,speed_kmh\n0,1\n"), true, math.NaN(), 0.0)
	f.Fuzz(func(t *testing.T, first, second []byte, manual bool, offset, drift float64) {
		o := ingest.Options{Limits: ingest.Limits{Bytes: 1 << 18, Seconds: 100_000}}
		a, err := ingest.Read(first, "a.dat", o)
		if err != nil {
			return
		}
		b, err := ingest.Read(second, "b.dat", o)
		if err != nil {
			return
		}
		joined, report, err := ingest.Join(a[0], b[0], ingest.JoinOptions{Manual: manual, OffsetS: offset, DriftPPM: drift})
		if err != nil {
			if !strings.Contains(err.Error(), ".dat") {
				t.Errorf("%v names no file", err)
			}
			return
		}
		for c, column := range joined.Values {
			if column != nil && len(column) != len(joined.Time) {
				t.Errorf("%v: %d values for %d samples", ride.Channel(c), len(column), len(joined.Time))
			}
		}
		for i := range joined.Time {
			if math.IsNaN(joined.Time[i]) || math.IsInf(joined.Time[i], 0) {
				t.Fatalf("sample %d is at %g s", i, joined.Time[i])
			}
		}
		if !manual && (report.OverlapS <= 0 || math.IsNaN(report.OffsetS)) {
			t.Errorf("joined on %+v", report)
		}
		if _, err := joined.Ride(); err != nil {
			t.Error(err)
		}
	})
}

// shuffledSpeed is a table whose speed has no two like stretches.
func shuffledSpeed(seconds int) string {
	var table strings.Builder
	table.WriteString("elapsed_s,speed_kmh\n")
	state := uint32(7)
	for i := range seconds {
		state = state*1664525 + 1013904223
		table.WriteString(fmt.Sprintf("%d,%d\n", i, state>>24%40))
	}
	return table.String()
}
