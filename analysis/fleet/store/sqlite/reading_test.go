package sqlite

import (
	"context"
	"crypto/sha256"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"cogledger/analysis/fleet/store"
	"cogledger/analysis/fleet/store/storetest"
)

// A store that is opened to read gives its rows and sums, takes none, and stays
// as it is; one that is not there is not made.
func TestReadingLeavesTheStoreAsItIs(t *testing.T) {
	path, outcomes := readable(t)
	before := sum(t, path)
	read(t, path, outcomes)
	if sum(t, path) != before {
		t.Error("the file has changed")
	}
	if _, err := OpenReading(context.Background(), path+".other"); err == nil || !strings.Contains(err.Error(), "nothing to report on") {
		t.Errorf("a store that is not there: %v", err)
	}
	if _, err := os.Stat(path + ".other"); err == nil {
		t.Error("a store that was not there is made")
	}
}

// File and folder may be read-only.
func TestReadingWithoutTheRightToWrite(t *testing.T) {
	if os.Getuid() == 0 {
		t.Skip("the superuser may write anywhere")
	}
	path, outcomes := readable(t)
	for name, mode := range map[string]os.FileMode{path: 0o400, filepath.Dir(path): 0o500} {
		if err := os.Chmod(name, mode); err != nil {
			t.Fatal(err)
		}
	}
	t.Cleanup(func() { os.Chmod(filepath.Dir(path), 0o700) })
	read(t, path, outcomes)
}

// A store that an earlier program made is brought up to date first.
func TestReadingAnEarlierStore(t *testing.T) {
	path, _ := readable(t)
	s, err := Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	_, err = s.db.Exec("ALTER TABLE rides DROP COLUMN air_c")
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	if s, err = OpenReading(context.Background(), path); err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if rows := storetest.Read(t, s); len(rows.Rides) == 0 {
		t.Error("no rides")
	}
}

func readable(t *testing.T) (string, storetest.Dump) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "fleet.sqlite")
	s, err := Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	outcomes := storetest.Drawn(50, 40)
	if err := s.Put(context.Background(), outcomes); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return path, storetest.Expected(outcomes)
}

func read(t *testing.T, path string, want storetest.Dump) {
	t.Helper()
	s, err := OpenReading(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	if d := storetest.Diff(want, storetest.Read(t, s)); d != "" {
		t.Errorf("rows differ (-want +got):\n%s", d)
	}
	if sums, err := s.Sums(context.Background(), store.Question{}); err != nil || sums.All.Rides != int64(len(want.Rides)) {
		t.Errorf("%d rides, %v", sums.All.Rides, err)
	}
	if err := s.Put(context.Background(), storetest.Drawn(51, 3)); err == nil {
		t.Error("a store that is opened to read takes rows")
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

func sum(t *testing.T, path string) [32]byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return sha256.Sum256(data)
}
