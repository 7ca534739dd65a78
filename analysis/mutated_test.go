package analysis_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime/metrics"
	"strconv"
	"strings"
	"testing"
	"time"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/ingest"
)

// Damaged copies of recorded logs go through a whole review. Each gives a
// result or an error that names the file; none panics, hangs or fills the
// memory. COGLEDGER_MUTANTS sets how many there are: 10,000 take half an hour of
// one core. COGLEDGER_MUTANTS_FROM begins at a later one, so that two processes
// can share them and a single one can be made again.
func TestMutatedLogs(t *testing.T) {
	from, n := 0, 60
	if testing.Short() {
		n = 15
	}
	for name, number := range map[string]*int{"COGLEDGER_MUTANTS": &n, "COGLEDGER_MUTANTS_FROM": &from} {
		if text := os.Getenv(name); text != "" {
			var err error
			if *number, err = strconv.Atoi(text); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
		}
	}
	const (
		mostTime   = 5 * time.Second
		mostMemory = 500 << 20
	)
	files := map[string][]byte{}
	var names []string
	for _, path := range realLogs(t) {
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if len(data) > 400<<10 && n < 1000 {
			continue // the short run keeps to the shorter rides
		}
		name := filepath.Base(path)
		if _, err := ingest.Read(data, name, ingest.Options{}); err != nil {
			continue // settings, courses and the like, refused as they are
		}
		files[name], names = data, append(names, name)
	}
	profiles := []*bike.Profile{roadBike(t), bike.Example()}
	var seen mutants
	for i := from; i < n; i++ {
		draw := rand.New(rand.NewPCG(uint64(i), 2026))
		name := names[draw.IntN(len(names))]
		data := mutated(files[name], files[names[draw.IntN(len(names))]], draw)
		file := fmt.Sprintf("mutant-%d-of-%s", i, name)
		var err error
		began, stop := processorTime(), watchMemory()
		trouble := troubleOf(4*mostTime, func() { err = reviewMutant(t, data, file, profiles[i%len(profiles)]) })
		took, peak := processorTime()-began, stop()
		if trouble != "" {
			t.Errorf("%s: panic: %s", file, trouble)
			continue
		}
		if err != nil && !strings.Contains(err.Error(), file) {
			t.Errorf("%s: %v does not name the file", file, err)
		}
		if peak > mostMemory {
			t.Errorf("%s: %d MB of memory", file, peak>>20)
		}
		if took > mostTime {
			t.Errorf("%s: %v", file, took)
		}
		seen.add(err, took, peak)
		if (i+1)%500 == 0 {
			t.Logf("%d of %d: %+v", i+1, n, seen)
		}
	}
	t.Logf("%d mutants of %d files: %d reviewed, %d refused by name; slowest %v, most memory %d MB",
		n-from, len(names), seen.reviewed, seen.refused, seen.slowest.Round(time.Millisecond), seen.peak>>20)
	if n-from >= 15 && (seen.reviewed < (n-from)/4 || seen.refused == 0) {
		t.Errorf("the mutants are too tame or too wild: %+v", seen)
	}
}

type mutants struct {
	reviewed, refused int
	slowest           time.Duration
	peak              uint64
}

func (m *mutants) add(err error, took time.Duration, peak uint64) {
	if err == nil {
		m.reviewed++
	} else {
		m.refused++
	}
	m.slowest, m.peak = max(m.slowest, took), max(m.peak, peak)
}

// reviewMutant is what the review command does with one file.
func reviewMutant(t *testing.T, data []byte, file string, p *bike.Profile) error {
	tracks, err := ingest.Read(data, file, ingest.Options{})
	if err != nil {
		return err
	}
	var results []*analysis.Result
	var failed error
	for _, track := range tracks {
		r, err := track.Ride()
		if err == nil {
			var res *analysis.Result
			if res, err = analysis.Review(r, p, analysis.Options{}); err == nil {
				sound(t, res)
				results = append(results, res)
			}
		}
		failed = errors.Join(failed, err)
	}
	if len(results) == 0 {
		return failed
	}
	return reports(analysis.Together(results))
}

// mutated is a copy with one to four faults, as bad transfers, worn memory and
// malice make them.
func mutated(data, other []byte, draw *rand.Rand) []byte {
	data = append([]byte(nil), data...)
	span := func(most int) (from, to int) {
		from = draw.IntN(len(data) + 1)
		return from, min(len(data), from+draw.IntN(most+1))
	}
	for range 1 + draw.IntN(4) {
		if len(data) == 0 {
			break
		}
		switch draw.IntN(9) {
		case 0: // bits flip
			for range 1 + draw.IntN(30) {
				data[draw.IntN(len(data))] ^= 1 << draw.IntN(8)
			}
		case 1: // bytes change
			for range 1 + draw.IntN(30) {
				data[draw.IntN(len(data))] = byte(draw.IntN(256))
			}
		case 2: // the file ends early
			data = data[:draw.IntN(len(data))]
		case 3: // a piece is missing
			from, to := span(2000)
			data = append(data[:from], data[to:]...)
		case 4: // a piece is there twice
			from, to := span(2000)
			data = append(data[:to], append([]byte(nil), data[from:]...)...)
		case 5: // a sector was never written
			from, to := span(4096)
			clear(data[from:to])
		case 6: // a sector is erased flash
			from, to := span(4096)
			for i := from; i < to; i++ {
				data[i] = 0xff
			}
		case 7: // a piece of another log
			from, to := span(2000)
			start := draw.IntN(len(other))
			copy(data[from:to], other[start:])
		case 8: // the head alone is hit
			for range 1 + draw.IntN(4) {
				data[draw.IntN(min(len(data), 400))] = byte(draw.IntN(256))
			}
		}
	}
	return data
}

// watchMemory follows the heap's size until the function that it returns is
// called, which tells the most that was seen.
func watchMemory() (stop func() uint64) {
	done, most := make(chan struct{}), make(chan uint64)
	go func() {
		sample := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
		peak := uint64(0)
		tick := time.NewTicker(2 * time.Millisecond)
		defer tick.Stop()
		for {
			metrics.Read(sample)
			peak = max(peak, sample[0].Value.Uint64())
			select {
			case <-done:
				most <- peak
				return
			case <-tick.C:
			}
		}
	}()
	return func() uint64 { close(done); return <-most }
}
