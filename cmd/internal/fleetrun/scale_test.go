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
// the same number of workers, garbage collected alike. A shared machine changes
// its speed meanwhile: files are decoded before each run and after it, and one
// worker and two take turns. What it cannot disturb is asserted: memory, and that
// a second run does nothing. Times are logged.
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
	measure(func() { decode(t, found.Logs, 2) }) // so that all read from memory
	defer CollectSeldom()()
	var alone, whole [3]cost // by workers, each the sum of two runs
	for _, jobs := range []int{1, 2, 2, 1} {
		before := measure(func() { decode(t, found.Logs, jobs) })
		path := filepath.Join(t.TempDir(), "fleet.sqlite")
		s := open(t, path)
		var report Report
		took := measure(func() {
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
		t.Logf("%d worker(s): decoding %v and %v, the whole run %v; store %d bytes a ride", jobs, before, after, took, size/int64(report.Rides))
		alone[jobs].add(before.over(2))
		alone[jobs].add(after.over(2))
		whole[jobs].add(took)
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
	for jobs := 1; jobs <= 2; jobs++ {
		t.Logf("%d worker(s): %.2f times decoding alone by the clock, %.2f by processor time; %.0f rides/s, %.2f ms of processor a ride", jobs,
			whole[jobs].wall.Seconds()/alone[jobs].wall.Seconds(), whole[jobs].cpu.Seconds()/alone[jobs].cpu.Seconds(),
			2*float64(len(found.Logs))/whole[jobs].wall.Seconds(), whole[jobs].cpu.Seconds()*1e3/2/float64(len(found.Logs)))
	}
	t.Logf("two workers against one: %.2f; decoding alone %.2f", whole[1].wall.Seconds()/whole[2].wall.Seconds(), alone[1].wall.Seconds()/alone[2].wall.Seconds())

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

func (c *cost) add(o cost) {
	c.wall += o.wall
	c.cpu += o.cpu
}

func (c cost) over(n time.Duration) cost { return cost{c.wall / n, c.cpu / n} }

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
