package fleetrun

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"

	tormoder "github.com/tormoder/fit"

	"cogledger/analysis/fleet"
	"cogledger/cmd/internal/fleetmade"
)

// BenchmarkWorker does made rides of 20 minutes, all but storing them. Set it
// beside BenchmarkDecode, which only decodes the same files, with one GOGC.
func BenchmarkWorker(b *testing.B) {
	folder, logs := benchLogs(b)
	bikes, err := ReadBikes(filepath.Join(folder, fleetmade.ProfileFolder), "")
	must(b, err)
	none := func(context.Context, string) (fleet.Log, bool, error) { return fleet.Log{}, false, nil }
	w := NewWorker(none, func(context.Context, string) bool { return false }, bikes, Options{})
	defer w.Close()
	var seconds int64
	for b.Loop() {
		for i := range logs {
			o, s, err := w.Do(context.Background(), &logs[i])
			must(b, err)
			if o.Log.Problem != "" {
				b.Fatal(o.Log.Path, o.Log.Problem)
			}
			seconds += s
		}
	}
	perRide(b, len(logs))
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(seconds), "ns/s")
}

// BenchmarkDecode decodes the same files with tormoder/fit.
func BenchmarkDecode(b *testing.B) {
	_, logs := benchLogs(b)
	for b.Loop() {
		decode(b, logs, 1)
	}
	perRide(b, len(logs))
}

func perRide(b *testing.B, rides int) {
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N*rides), "µs/ride")
}

func benchLogs(b *testing.B) (folder string, logs []Found) {
	folder = b.TempDir()
	_, err := fleetmade.Write(context.Background(), folder, fleetmade.Options{Rides: 40, Bikes: 10, Seed: 1}, func(int) {})
	must(b, err)
	found, err := Find([]string{filepath.Join(folder, fleetmade.LogFolder)})
	must(b, err)
	return folder, found.Logs
}

// decode decodes logs with tormoder/fit and drops the result.
func decode(t testing.TB, logs []Found, workers int) {
	next := make(chan *Found)
	var working sync.WaitGroup
	for range workers {
		working.Go(func() {
			for l := range next {
				data, err := os.ReadFile(l.file)
				if err == nil {
					_, err = tormoder.Decode(bytes.NewReader(data))
				}
				if err != nil {
					t.Errorf("%s: %v", l.file, err)
				}
			}
		})
	}
	for i := range logs {
		next <- &logs[i]
	}
	close(next)
	working.Wait()
}
