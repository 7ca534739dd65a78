package fleetrun

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"cogledger/analysis/fleet/store"
	"cogledger/analysis/fleet/store/sqlite"
	"cogledger/analysis/fleet/store/storetest"
	"cogledger/cmd/internal/fleetmade"
)

// long asks for the tests at the size that a fleet has.
const long = "COGLEDGER_FLEET_LONG"

// small is a folder with a small made fleet, made once and never changed.
var small = sync.OnceValues(func() (string, error) {
	folder, err := os.MkdirTemp("", "fleetrun-test-*")
	if err != nil {
		return "", err
	}
	_, err = fleetmade.Write(context.Background(), folder, fleetmade.Options{Rides: 48, Bikes: 8, Minutes: 4, Seed: 3}, func(int) {})
	return folder, err
})

func TestMain(m *testing.M) {
	if os.Getenv(childEnv) != "" {
		child()
		return
	}
	code := m.Run()
	if folder, err := small(); err == nil {
		os.RemoveAll(folder)
	}
	os.Exit(code)
}

// a fleet on disk that a test may change.
func fleetCopy(t testing.TB) string {
	t.Helper()
	from, err := small()
	must(t, err)
	to := t.TempDir()
	must(t, os.CopyFS(to, os.DirFS(from)))
	return to
}

func open(t testing.TB, path string) store.Store {
	t.Helper()
	s, err := sqlite.Open(context.Background(), path)
	must(t, err)
	t.Cleanup(func() { s.Close() })
	return s
}

// dump reads the store at path whole and closes it again, since another process
// is to work on it next.
func dump(t testing.TB, path string) storetest.Dump {
	t.Helper()
	s, err := sqlite.Open(context.Background(), path)
	must(t, err)
	defer s.Close()
	return storetest.Read(t, s)
}

// run reviews a fleet's folder into a store.
func run(t testing.TB, s store.Store, folder string, o Options) (Report, error) {
	t.Helper()
	bikes, err := ReadBikes(filepath.Join(folder, fleetmade.ProfileFolder), "")
	must(t, err)
	found, err := Find([]string{filepath.Join(folder, fleetmade.LogFolder)})
	must(t, err)
	return Run(context.Background(), s, found, bikes, o)
}

// undisturbed is what a store holds after a plain run.
func undisturbed(t testing.TB, folder string) storetest.Dump {
	t.Helper()
	s := open(t, filepath.Join(t.TempDir(), "undisturbed.sqlite"))
	_, err := run(t, s, folder, Options{})
	must(t, err)
	return storetest.Read(t, s)
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
