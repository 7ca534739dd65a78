package sqlite

import (
	"context"
	"database/sql"
	"maps"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"cogledger/analysis/fleet/store"
	"cogledger/analysis/fleet/store/storetest"
)

func TestStore(t *testing.T) {
	storetest.Run(t, func(t *testing.T) func() (store.Store, error) {
		path := filepath.Join(t.TempDir(), "a fleet ? 50%.sqlite")
		return func() (store.Store, error) { return Open(context.Background(), path) }
	})
}

// The columns of a file are those of the rows, whenever they came, and its
// rows survive.
func TestColumnsFollowTheRows(t *testing.T) {
	path := filepath.Join(t.TempDir(), "fleet.sqlite")
	open := func() *Store {
		s, err := Open(context.Background(), path)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	s := open()
	want := kinds(t, s)
	outcomes := storetest.Drawn(31, 40)
	if err := s.Put(context.Background(), outcomes); err != nil {
		t.Fatal(err)
	}
	// A file of before there were these.
	for _, gone := range []string{"rides DROP COLUMN air_c", "rides DROP COLUMN warnings", "rides DROP COLUMN made", "segments DROP COLUMN gear_to", "logs DROP COLUMN start"} {
		if _, err := s.db.Exec("ALTER TABLE " + gone); err != nil {
			t.Fatal(err)
		}
	}
	s.Close()
	s = open()
	defer s.Close()
	if got := kinds(t, s); !maps.Equal(got, want) {
		t.Errorf("columns of an older file are %v, want %v", got, want)
	}
	for r, err := range s.Rides(context.Background()) {
		if err != nil || !math.IsNaN(r.AirC) || r.Warnings != 0 {
			t.Fatalf("%+v, %v", r, err)
		}
	}
	if err := s.Put(context.Background(), outcomes); err != nil {
		t.Fatal(err)
	}
	if d := storetest.Diff(storetest.Expected(outcomes), storetest.Read(t, s)); d != "" {
		t.Error(d)
	}
}

// kinds gives the type of every column that rows have, and fails where a table
// has others or has them of another type.
func kinds(t *testing.T, s *Store) map[string]string {
	t.Helper()
	all := make(map[string]string)
	for _, table := range store.Tables() {
		found, err := s.db.Query("SELECT name, type FROM pragma_table_info(?)", table.Name)
		if err != nil {
			t.Fatal(err)
		}
		there := make(map[string]string)
		for found.Next() {
			var name, kind string
			if err := found.Scan(&name, &kind); err != nil {
				t.Fatal(err)
			}
			there[name] = kind
		}
		found.Close()
		for _, c := range table.Columns {
			want := "INTEGER"
			switch c.At.(type) {
			case *string:
				want = "TEXT"
			case *float64:
				want = "REAL"
			}
			if there[c.Name] != want {
				t.Errorf("%s.%s is %q, want %s", table.Name, c.Name, there[c.Name], want)
			}
			all[table.Name+"."+c.Name] = there[c.Name]
		}
		if len(there) != len(table.Columns) {
			t.Errorf("%s has %d columns, want %d", table.Name, len(there), len(table.Columns))
		}
	}
	return all
}

func TestRefusesWhatIsNoStore(t *testing.T) {
	folder := t.TempDir()
	tests := []struct {
		name, want string
		prepare    func(path string) error
	}{
		{"text", "no store", func(path string) error { return os.WriteFile(path, []byte(strings.Repeat("a log, say\n", 500)), 0o644) }},
		{"another program's database", "another program", func(path string) error {
			db, err := sql.Open("sqlite", path)
			if err != nil {
				return err
			}
			defer db.Close()
			_, err = db.Exec("CREATE TABLE customers (name TEXT)")
			return err
		}},
		{"a later version", "later cogledger", func(path string) error {
			s, err := Open(context.Background(), path)
			if err != nil {
				return err
			}
			defer s.Close()
			_, err = s.db.Exec("PRAGMA user_version = 99")
			return err
		}},
		{"a folder", "cannot be opened", func(path string) error { return os.Mkdir(path, 0o755) }},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			path := filepath.Join(folder, test.name)
			if err := test.prepare(path); err != nil {
				t.Fatal(err)
			}
			s, err := Open(context.Background(), path)
			if err == nil {
				s.Close()
				t.Fatal("opened")
			}
			if !strings.Contains(err.Error(), test.want) || !strings.Contains(err.Error(), path) {
				t.Errorf("error %q, want the path and %q", err, test.want)
			}
		})
	}
	if _, err := Open(context.Background(), filepath.Join(folder, "no such folder", "x.sqlite")); err == nil || !strings.Contains(err.Error(), "folder") {
		t.Errorf("a missing folder: %v", err)
	}
}

func fresh(t testing.TB) *Store {
	t.Helper()
	s, err := Open(context.Background(), filepath.Join(t.TempDir(), "fleet.sqlite"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func BenchmarkPut(b *testing.B) {
	outcomes := storetest.Drawn(1, 500)
	rows := 0
	for _, o := range outcomes {
		rows += 1 + len(o.Rides) + len(o.Habits) + len(o.Segments)
	}
	b.ReportMetric(float64(rows)/float64(len(outcomes)), "rows/log")
	for b.Loop() {
		s := fresh(b)
		if err := s.Put(context.Background(), outcomes); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(rows*b.N)/b.Elapsed().Seconds(), "rows/s")
}

// Processes that open a new store at the same moment all find one of ours.
func TestOpenedAtOnce(t *testing.T) {
	for range 40 {
		path := filepath.Join(t.TempDir(), "new.sqlite")
		var opening sync.WaitGroup
		for range 4 {
			opening.Go(func() {
				s, err := Open(context.Background(), path)
				if err != nil {
					t.Error(err)
					return
				}
				s.Close()
			})
		}
		opening.Wait()
	}
}
