//go:build unix

package fleetrun

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
	"cogledger/cmd/internal/fleetmade"
)

// TestScale measures a run over as many made rides of 20 minutes as the
// variable says, against decoding the same files alone in the same program with
// the same number of workers, garbage collected alike. They are decoded before
// the run and after it, since a shared machine changes its speed meanwhile; the
// mean counts. What it cannot disturb is asserted: memory, and that a second run
// does nothing. Times are logged.
//
//	COGLEDGER_FLEET_SCALE=10000 go test -run TestScale -v -timeout 1h ./cmd/internal/fleetrun
func TestScale(t *testing.T) {
	rides, _ := strconv.Atoi(os.Getenv("COGLEDGER_FLEET_SCALE"))
	if rides == 0 {
		t.Skip("COGLEDGER_FLEET_SCALE is not set to a number of rides")
	}
	folder := os.Getenv("COGLEDGER_FLEET_FOLDER") // one that demo --rides made may serve again
	if folder == "" {
		folder = t.TempDir()
		began := time.Now()
		_, err := fleetmade.Write(context.Background(), folder, fleetmade.Options{Rides: rides, Bikes: 100, Seed: 1}, func(int) {})
		must(t, err)
		t.Logf("made %d rides in %v", rides, time.Since(began).Round(time.Second))
	}
	found, err := Find([]string{filepath.Join(folder, fleetmade.LogFolder)})
	must(t, err)
	bytes := int64(0)
	for _, l := range found.Logs {
		bytes += l.Bytes
	}
	t.Logf("%d logs, %d MB", len(found.Logs), bytes>>20)
	for range 2 { // so that both read from memory
		measure(func() { decode(t, found.Logs, 2) })
	}
	defer CollectSeldom()()
	var whole [3]cost
	for jobs := 1; jobs <= 2; jobs++ {
		before := measure(func() { decode(t, found.Logs, jobs) })
		path := filepath.Join(t.TempDir(), "fleet.sqlite")
		s := open(t, path)
		var report Report
		whole[jobs] = measure(func() {
			report, err = run(t, s, folder, Options{Jobs: jobs})
			must(t, err)
		})
		if report.Rides != len(found.Logs) {
			t.Fatalf("%+v", report)
		}
		size := int64(0)
		for _, end := range []string{"", "-wal"} {
			if info, err := os.Stat(path + end); err == nil {
				size += info.Size()
			}
		}
		after := measure(func() { decode(t, found.Logs, jobs) })
		alone := cost{(before.wall + after.wall) / 2, (before.cpu + after.cpu) / 2}
		seconds := float64(report.Seconds)
		t.Logf("%d worker(s): decoding %v and %v, the whole run %v; ratio %.2f by the clock, %.2f by processor time; %.0f rides/s, %.2f µs of processor a second of ride; store %d bytes a ride", jobs, before, after, whole[jobs],
			whole[jobs].wall.Seconds()/alone.wall.Seconds(), whole[jobs].cpu.Seconds()/alone.cpu.Seconds(),
			float64(report.Rides)/whole[jobs].wall.Seconds(), whole[jobs].cpu.Seconds()*1e6/seconds, size/int64(report.Rides))
		again := measure(func() { report, err = run(t, s, folder, Options{Jobs: jobs}) })
		must(t, err)
		if report.Current != len(found.Logs) {
			t.Errorf("a second run: %+v", report)
		}
		asked := measure(func() {
			sums, err := s.Sums(context.Background(), store.Question{Least: 5, HideEnds: true})
			must(t, err)
			fleet.Summarise(sums, fleet.Options{})
		})
		t.Logf("a second run with nothing new %v, the summary %v", again, asked)
	}
	t.Logf("two workers against one: %.2f", whole[1].wall.Seconds()/whole[2].wall.Seconds())

	// Memory, in a process that does nothing else.
	cmd, said := startChild(t, filepath.Join(t.TempDir(), "peak.sqlite"), folder)
	must(t, cmd.Wait())
	peak, err := strconv.Atoi(strings.TrimSpace(strings.TrimPrefix(said.String(), "done")))
	must(t, err)
	t.Logf("peak memory of a run of its own: %d MB", peak)
	if peak > 400 {
		t.Errorf("peak memory %d MB, the limit is 400", peak)
	}
}

type cost struct{ wall, cpu time.Duration }

func (c cost) String() string {
	return fmt.Sprintf("%v (%v of processor)", c.wall.Round(time.Millisecond), c.cpu.Round(time.Millisecond))
}

func measure(f func()) cost {
	before, began := processorTime(), time.Now()
	f()
	return cost{time.Since(began), processorTime() - before}
}

func processorTime() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
