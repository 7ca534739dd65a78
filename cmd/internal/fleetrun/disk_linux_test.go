package fleetrun

import (
	"context"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"cogledger/analysis/fleet/store/sqlite"
	"cogledger/analysis/fleet/store/storetest"
)

// A full disk gives a clear error and a store that is whole; with room again
// the run goes on.
func TestFullDisk(t *testing.T) {
	folder, err := small()
	must(t, err)
	disk := t.TempDir()
	if err := syscall.Mount("tmpfs", disk, "tmpfs", 0, "size=144k"); err != nil {
		t.Skipf("a small disk cannot be mounted here (%v); it takes Linux and root", err)
	}
	defer syscall.Unmount(disk, 0)
	path := filepath.Join(disk, "fleet.sqlite")
	cmd, said := startChild(t, path, folder)
	if err := cmd.Wait(); err == nil {
		t.Fatalf("a run on a disk of 144 kB ended well: %s", said)
	}
	if s := said.String(); !strings.Contains(s, path) || !strings.Contains(s, "disk") || !strings.Contains(s, "whole") {
		t.Errorf("the error says %q", s)
	}
	must(t, syscall.Mount("tmpfs", disk, "tmpfs", syscall.MS_REMOUNT, "size=64m"))
	if cmd, said = startChild(t, path, folder); cmd.Wait() != nil {
		t.Fatalf("with room again: %s", said)
	}
	s, err := sqlite.Open(context.Background(), path)
	must(t, err)
	defer s.Close()
	if d := storetest.Diff(undisturbed(t, folder), storetest.Read(t, s)); d != "" {
		t.Errorf("the store differs (-undisturbed +filled):\n%s", d)
	}
}
