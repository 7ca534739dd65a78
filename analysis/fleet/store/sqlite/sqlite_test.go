package sqlite

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
	"cogledger/analysis/fleet/store/storetest"
)

func TestStore(t *testing.T) {
	storetest.Run(t, func(t *testing.T) func() (store.Store, error) {
		path := filepath.Join(t.TempDir(), "a fleet ? 50%.sqlite")
		return func() (store.Store, error) { return Open(context.Background(), path) }
	})
}

// The schema is frozen in a script, the columns live in Go: they must agree in
// name, order and kind.
func TestSchemaHasTheColumns(t *testing.T) {
	s := fresh(t)
	check(t, s, "rides", fleet.RideColumns())
	check(t, s, "habits", fleet.HabitColumns())
	check(t, s, "segments", fleet.SegmentColumns())
	check(t, s, "logs", fleet.LogColumns())
}

func check[Row any](t *testing.T, s *Store, table string, columns []fleet.Column[Row]) {
	t.Helper()
	found, err := s.db.Query("SELECT name, type FROM pragma_table_info(?)", table)
	if err != nil {
		t.Fatal(err)
	}
	defer found.Close()
	i := 0
	for ; found.Next(); i++ {
		var name, kind string
		if err := found.Scan(&name, &kind); err != nil {
			t.Fatal(err)
		}
		if i >= len(columns) {
			t.Errorf("%s: no column of a row is called %s", table, name)
			continue
		}
		want := "INTEGER"
		switch columns[i].At(new(Row)).(type) {
		case *string:
			want = "TEXT"
		case *float64:
			want = "REAL"
		}
		if name != columns[i].Name || kind != want {
			t.Errorf("%s: column %d is %s %s, want %s %s", table, i, name, kind, columns[i].Name, want)
		}
	}
	if i != len(columns) {
		t.Errorf("%s has %d columns, want %d", table, i, len(columns))
	}
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
