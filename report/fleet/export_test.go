package fleet

import (
	"context"
	"encoding/csv"
	"errors"
	"iter"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store/storetest"
)

// held serves drawn rows as a store would.
type held struct {
	storetest.Dump
	failAfter int // rides before an error; 0: none
}

var errBroken = errors.New("the store broke off")

func (h held) Rides(context.Context) iter.Seq2[*fleet.Ride, error] {
	return func(yield func(*fleet.Ride, error) bool) {
		for i := range h.Dump.Rides {
			if h.failAfter > 0 && i == h.failAfter {
				yield(nil, errBroken)
				return
			}
			row := h.Dump.Rides[i]
			if !yield(&row, nil) {
				return
			}
		}
	}
}

func (h held) Habits(context.Context) iter.Seq2[*fleet.Habit, error] { return each(h.Dump.Habits) }
func (h held) Segments(context.Context) iter.Seq2[*fleet.Segment, error] {
	return each(h.Dump.Segments)
}

func each[Row any](rows []Row) iter.Seq2[*Row, error] {
	return func(yield func(*Row, error) bool) {
		for i := range rows {
			if !yield(&rows[i], nil) {
				return
			}
		}
	}
}

func drawn(n int) held { return held{Dump: storetest.Expected(storetest.Drawn(31, n))} }

// What is written as CSV reads back as it was, column by column.
func TestCSVHoldsTheRows(t *testing.T) {
	rows, folder := drawn(60), t.TempDir()
	must(t, Export(context.Background(), folder, CSV, rows, Veil{}, false))
	table := readCSV(t, filepath.Join(folder, "rides.csv"))
	columns := fleet.RideColumns()
	if len(table) != len(rows.Dump.Rides)+1 || len(table[0]) != len(columns) {
		t.Fatalf("%d lines of %d columns", len(table), len(table[0]))
	}
	for i := range rows.Dump.Rides {
		for c, column := range columns {
			if want := cell(column.Value(&rows.Dump.Rides[i])); table[i+1][c] != want {
				t.Errorf("line %d, %s: %q, want %q", i+2, column.Name, table[i+1][c], want)
			}
		}
	}
	if n := len(readCSV(t, filepath.Join(folder, "segments.csv"))) - 1; n != len(rows.Dump.Segments) {
		t.Errorf("%d segments, want %d", n, len(rows.Dump.Segments))
	}
	if n := len(readCSV(t, filepath.Join(folder, "habits.csv"))) - 1; n != len(rows.Dump.Habits) {
		t.Errorf("%d habits, want %d", n, len(rows.Dump.Habits))
	}
}

// What is written as Parquet reads back as it was, in the folder of its month.
func TestParquetHoldsTheRows(t *testing.T) {
	rows, folder := drawn(60), t.TempDir()
	must(t, Export(context.Background(), folder, Parquet, rows, Veil{}, false))
	byKey := make(map[string]*fleet.Ride)
	for i := range rows.Dump.Rides {
		r := &rows.Dump.Rides[i]
		byKey[r.Content+"/"+string(rune('0'+r.Part))] = r
	}
	seen := 0
	files, err := filepath.Glob(filepath.Join(folder, "rides", "month=*", "rides.parquet"))
	must(t, err)
	if len(files) < 3 {
		t.Fatalf("%d months", len(files))
	}
	for _, name := range files {
		month := strings.TrimPrefix(filepath.Base(filepath.Dir(name)), "month=")
		for _, row := range readParquet(t, name) {
			content, part := row["content"].String(), row["part"].Int64()
			r := byKey[content+"/"+string(rune('0'+part))]
			if r == nil || r.Month != month {
				t.Fatalf("%s holds a ride %s that is not of it", name, content)
			}
			seen++
			for _, column := range fleet.RideColumns() {
				if column.Name == "month" {
					continue
				}
				compareValue(t, column.Name, row[column.Name], column.Value(r))
			}
		}
	}
	if seen != len(rows.Dump.Rides) {
		t.Errorf("%d rides, want %d", seen, len(rows.Dump.Rides))
	}
}

func compareValue(t *testing.T, name string, got parquet.Value, want any) {
	t.Helper()
	same := false
	switch v := want.(type) {
	case string:
		same = got.String() == v
	case int64:
		same = got.Int64() == v
	case bool:
		same = got.Boolean() == v
	case float64:
		same = math.IsNaN(v) && got.IsNull() || got.Double() == v
	case time.Time:
		same = v.IsZero() && got.IsNull() || got.Int64() == v.UnixMilli()
	}
	if !same {
		t.Errorf("%s: %v, want %v", name, got, want)
	}
}

// Private exports hold no name, path, time of day or place that was not cleared.
func TestPrivateExport(t *testing.T) {
	rows, folder := drawn(60), t.TempDir()
	cleared := rows.Dump.Segments[0]
	for i := range rows.Dump.Segments {
		if !rows.Dump.Segments[i].NearEnd {
			cleared = rows.Dump.Segments[i]
			break
		}
	}
	v := Veil{
		Private: true, Pseudonyms: fleet.Pseudonyms{Key: []byte("a key")},
		Groups: map[string]bool{"north": true}, Cells: map[CellWay]bool{{cleared.Cell, cleared.Direction}: true},
	}
	must(t, Export(context.Background(), folder, CSV, rows, v, false))
	text := ""
	for _, name := range []string{"rides.csv", "habits.csv", "segments.csv"} {
		data, err := os.ReadFile(filepath.Join(folder, name))
		must(t, err)
		text += string(data)
	}
	for _, secret := range []string{"rider A", "quoted", "south", "logs 31", rows.Dump.Rides[0].Content} {
		if strings.Contains(text, secret) {
			t.Errorf("a private export holds %q", secret)
		}
	}
	for _, line := range readCSV(t, filepath.Join(folder, "rides.csv"))[1:] {
		content, path, bike, rider, start := line[0], line[2], line[3], line[4], line[8]
		if content+path+bike+rider+start != "" {
			t.Errorf("a ride that tells whose it is or when: %v", line[:9])
		}
	}
	for _, line := range readCSV(t, filepath.Join(folder, "segments.csv"))[1:] {
		if line[0] != "" || line[9] != "false" {
			t.Errorf("a stretch that tells its ride or lies near an end: %v", line)
		}
	}
}

func TestExportKeepsWhatIsThere(t *testing.T) {
	rows, folder := drawn(20), t.TempDir()
	for _, format := range []Format{CSV, Parquet} {
		must(t, Export(context.Background(), folder, format, rows, Veil{}, false))
		if err := Export(context.Background(), folder, format, rows, Veil{}, false); err == nil || !strings.Contains(err.Error(), "--force") {
			t.Errorf("a second export: %v", err)
		}
		must(t, Export(context.Background(), folder, format, rows, Veil{}, true))
	}
	before, err := os.ReadFile(filepath.Join(folder, "rides.csv"))
	must(t, err)
	rows.failAfter = 7
	if err := Export(context.Background(), folder, CSV, rows, Veil{}, true); !errors.Is(err, errBroken) {
		t.Errorf("a store that breaks off: %v", err)
	}
	after, err := os.ReadFile(filepath.Join(folder, "rides.csv"))
	must(t, err)
	if string(before) != string(after) {
		t.Error("a failed export changed what was there")
	}
	if left, _ := filepath.Glob(filepath.Join(folder, ".export-*")); len(left) > 0 {
		t.Errorf("a failed export leaves %v", left)
	}
}

func TestCellsAreNoFormulas(t *testing.T) {
	for _, text := range []string{"=1+1", "+1", "-1", "@x", "\tx", "\rx"} {
		if got := cell(text); got != "'"+text {
			t.Errorf("%q becomes %q", text, got)
		}
	}
	if cell("x=1") != "x=1" || cell("") != "" || cell(-1.5) != "-1.5" {
		t.Error("what is no formula is changed")
	}
}

func readCSV(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(name)
	must(t, err)
	defer f.Close()
	table, err := csv.NewReader(f).ReadAll()
	must(t, err)
	return table
}

func readParquet(t *testing.T, name string) []map[string]parquet.Value {
	t.Helper()
	f, err := os.Open(name)
	must(t, err)
	defer f.Close()
	info, err := f.Stat()
	must(t, err)
	file, err := parquet.OpenFile(f, info.Size())
	must(t, err)
	if _, about := file.Lookup("about.content"); !about {
		t.Errorf("%s does not describe its columns", name)
	}
	var all []map[string]parquet.Value
	for _, group := range file.RowGroups() {
		rows := group.Rows()
		buffer := make([]parquet.Row, 64)
		for {
			n, err := rows.ReadRows(buffer)
			for _, row := range buffer[:n] {
				values := make(map[string]parquet.Value)
				for _, v := range row {
					values[file.Schema().Columns()[v.Column()][0]] = v.Clone()
				}
				all = append(all, values)
			}
			if err != nil {
				break
			}
		}
		must(t, rows.Close())
	}
	return all
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
