package fleetrun

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"cogledger/analysis/fleet/store/sqlite"
	"cogledger/analysis/fleet/store/storetest"
	"cogledger/cmd/internal/fleetmade"
)

// childEnv tells this test's program to run as another process would: its value
// is the store, the fleet's folder comes after a line break.
const childEnv = "COGLEDGER_FLEETRUN_CHILD"

// child is the other process: it does a run and says on stdout how it ended.
func child() {
	path, folder, _ := strings.Cut(os.Getenv(childEnv), "\n")
	err := func() error {
		s, err := sqlite.Open(context.Background(), path)
		if err != nil {
			return err
		}
		defer s.Close()
		bikes, err := ReadBikes(filepath.Join(folder, fleetmade.ProfileFolder), "")
		if err != nil {
			return err
		}
		found, err := Find([]string{filepath.Join(folder, fleetmade.LogFolder)})
		if err != nil {
			return err
		}
		_, err = Run(context.Background(), s, found, bikes, Options{Jobs: 2})
		return err
	}()
	if err != nil {
		fmt.Println(err)
		os.Exit(1)
	}
	fmt.Println("done", peakMB())
}

func startChild(t *testing.T, path, folder string) (*exec.Cmd, *strings.Builder) {
	t.Helper()
	program, err := os.Executable()
	must(t, err)
	cmd := exec.Command(program, "-test.run=^$")
	cmd.Env = append(os.Environ(), childEnv+"="+path+"\n"+folder)
	said := &strings.Builder{}
	cmd.Stdout, cmd.Stderr = said, said
	must(t, cmd.Start())
	return cmd, said
}

// Killed at any moment, and run to its end afterwards, a run leaves what an
// undisturbed one leaves, row by row.
func TestKilledRunsEndAsOneUndisturbed(t *testing.T) {
	kills := 4
	if os.Getenv(long) != "" {
		kills = 20
	}
	folder, err := small()
	must(t, err)
	want := undisturbed(t, folder)
	fresh := func() string { return filepath.Join(t.TempDir(), "killed.sqlite") }
	begun := time.Now()
	whole, said := startChild(t, fresh(), folder)
	if err := whole.Wait(); err != nil {
		t.Fatalf("a run left alone: %v\n%s", err, said)
	}
	lasts := time.Since(begun)
	path := fresh()
	killed, tries := 0, 0
	for ; killed < kills && tries < 10*kills; tries++ {
		// Each kill lands within a run: a new store begins when all is done.
		if len(dump(t, path).Logs) == len(want.Logs) {
			path = fresh()
		}
		cmd, _ := startChild(t, path, folder)
		time.Sleep(time.Duration(rand.Int64N(int64(lasts))))
		must(t, cmd.Process.Kill())
		if err := cmd.Wait(); err != nil {
			killed++
		}
	}
	if killed < kills {
		t.Fatalf("%d of %d kills met a run at work, %d wanted", killed, tries, kills)
	}
	cmd, said := startChild(t, path, folder)
	if err := cmd.Wait(); err != nil {
		t.Fatalf("the run after the kills: %v\n%s", err, said)
	}
	if d := storetest.Diff(want, dump(t, path)); d != "" {
		t.Errorf("after %d kills the store differs (-undisturbed +killed):\n%s", killed, d)
	}
	t.Logf("%d of %d kills met a run at work", killed, tries)
}

// Two processes on one store lose nothing and double nothing.
func TestTwoProcessesAtOnce(t *testing.T) {
	folder, err := small()
	must(t, err)
	want := undisturbed(t, folder)
	path := filepath.Join(t.TempDir(), "shared.sqlite")
	one, saidOne := startChild(t, path, folder)
	two, saidTwo := startChild(t, path, folder)
	if err := one.Wait(); err != nil {
		t.Errorf("%v\n%s", err, saidOne)
	}
	if err := two.Wait(); err != nil {
		t.Errorf("%v\n%s", err, saidTwo)
	}
	if d := storetest.Diff(want, dump(t, path)); d != "" {
		t.Errorf("the store differs (-one process +two):\n%s", d)
	}
}
