package postgres_test

import (
	"context"
	"fmt"
	"os"
	"slices"
	"strings"
	"syscall"
	"testing"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store/postgres"
	"cogledger/analysis/fleet/store/postgres/pgtest"
	"cogledger/analysis/fleet/store/storetest"
)

// A full disk of the server gives a clear error and a store that holds whole
// calls; with room again the same call succeeds.
func TestFullDisk(t *testing.T) {
	disk, err := os.MkdirTemp("", "disk") // the server's user cannot go through a folder of the test's
	must(t, err)
	t.Cleanup(func() { os.Remove(disk) })
	if err := syscall.Mount("tmpfs", disk, "tmpfs", 0, "size=16m"); err != nil {
		t.Skipf("a small disk cannot be mounted here (%v); it takes Linux and root", err)
	}
	t.Cleanup(func() { must(t, syscall.Unmount(disk, 0)) }) // after the server, which stops before
	server := pgtest.Start(t)
	server.Give(t, disk)
	server.Exec(t, server.URL, fmt.Sprintf("CREATE TABLESPACE small LOCATION '%s'", disk), "CREATE DATABASE cramped TABLESPACE small")
	s, err := postgres.Open(context.Background(), server.Address("postgres", pgtest.Password, "cramped"))
	must(t, err)
	defer s.Close()

	var stored, next []fleet.Outcome
	for seed := uint64(1); err == nil && seed < 100; seed++ {
		stored = append(stored, next...)
		next = storetest.Drawn(seed, 300)
		err = s.Put(context.Background(), next)
	}
	if err == nil || len(stored) == 0 {
		t.Fatalf("after %d logs on a disk of 16 MB: %v", len(stored), err)
	}
	for _, want := range []string{"store " + s.Name(), "the server's disk is full", "what was stored before is whole", "free some space and run again", "53100"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("the error does not say %q: %v", want, err)
		}
	}
	if d := storetest.Diff(storetest.Expected(stored), storetest.Read(t, s)); d != "" {
		t.Errorf("rows on the full disk differ (-want +got):\n%s", d)
	}

	must(t, syscall.Mount("tmpfs", disk, "tmpfs", syscall.MS_REMOUNT, "size=64m"))
	must(t, s.Put(context.Background(), next))
	if d := storetest.Diff(storetest.Expected(slices.Concat(stored, next)), storetest.Read(t, s)); d != "" {
		t.Errorf("rows with room again differ (-want +got):\n%s", d)
	}
}
