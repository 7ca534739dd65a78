package fleet

import (
	"bufio"
	"encoding/csv"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/parquet-go/parquet-go"

	"cogledger/analysis/fleet"
)

// sheets are the files of one export.
type sheets struct {
	folder string
	format Format
	open   []func() error
}

func newSheets(folder string, format Format) *sheets { return &sheets{folder: folder, format: format} }

func (s *sheets) close() error {
	var failed error
	for _, end := range s.open {
		failed = errors.Join(failed, end())
	}
	s.open = nil
	return failed
}

// A sheet is one table: one file, or one a month.
type sheet[Row any] struct {
	of      *sheets
	name    string
	columns []fleet.Column[Row]
	months  map[string]func([]any) error
	values  []any
}

func newSheet[Row any](of *sheets, name string, columns []fleet.Column[Row]) *sheet[Row] {
	s := &sheet[Row]{of: of, name: name, columns: columns, months: make(map[string]func([]any) error)}
	if of.format == Parquet {
		// The folder's name holds the month, and engines make a column of it.
		var kept []fleet.Column[Row]
		for _, c := range columns {
			if c.Name != "month" {
				kept = append(kept, c)
			}
		}
		s.columns = kept
	}
	return s
}

// ready makes a file with a header also where no row will follow, except of
// one a month.
func (s *sheet[Row]) ready() (err error) {
	if s.of.format == CSV {
		s.months[""], err = s.begin("")
	}
	return err
}

// write writes one row.
func (s *sheet[Row]) write(month string, row *Row) error {
	if s.of.format == CSV {
		month = ""
	}
	put := s.months[month]
	if put == nil {
		var err error
		if put, err = s.begin(month); err != nil {
			return err
		}
		s.months[month] = put
	}
	s.values = s.values[:0]
	for _, c := range s.columns {
		s.values = append(s.values, c.Value(row))
	}
	return put(s.values)
}

// begin opens the file for a month.
func (s *sheet[Row]) begin(month string) (func([]any) error, error) {
	path := filepath.Join(s.of.folder, s.name+".csv")
	if s.of.format == Parquet {
		path = filepath.Join(s.of.folder, s.name, "month="+month, s.name+".parquet")
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, err
	}
	buffer := bufio.NewWriterSize(f, 1<<16)
	var put func([]any) error
	var end func() error
	if s.of.format == CSV {
		put, end, err = csvFile(buffer, s.columns)
	} else {
		put, end = parquetFile(buffer, s.name, s.columns)
	}
	s.of.open = append(s.of.open, func() error { return errors.Join(end(), buffer.Flush(), f.Close()) })
	return put, err
}

func csvFile[Row any](to *bufio.Writer, columns []fleet.Column[Row]) (put func([]any) error, end func() error, err error) {
	w := csv.NewWriter(to)
	cells := make([]string, len(columns))
	for i, c := range columns {
		cells[i] = c.Name
	}
	err = w.Write(cells)
	return func(values []any) error {
			for i, v := range values {
				cells[i] = cell(v)
			}
			return w.Write(cells)
		}, func() error {
			w.Flush()
			return w.Error()
		}, err
}

// cell is a value in CSV: nothing where it is not known. Text that a
// spreadsheet would take for a formula gets an apostrophe before it.
func cell(value any) string {
	switch v := value.(type) {
	case string:
		if v != "" && strings.ContainsRune("=+-@\t\r", rune(v[0])) {
			return "'" + v
		}
		return v
	case int64:
		return strconv.FormatInt(v, 10)
	case bool:
		return strconv.FormatBool(v)
	case float64:
		if math.IsNaN(v) {
			return ""
		}
		return strconv.FormatFloat(v, 'g', -1, 64)
	case time.Time:
		if v.IsZero() {
			return ""
		}
		return v.UTC().Format(time.RFC3339)
	}
	panic("fleet: a cell of a type that rows do not hold")
}

// rowGroup is how many rows a Parquet writer holds in memory.
const rowGroup = 5000

func parquetFile[Row any](to *bufio.Writer, name string, columns []fleet.Column[Row]) (put func([]any) error, end func() error) {
	options := []parquet.WriterOption{schemaOf(name, columns), parquet.Compression(&parquet.Zstd), parquet.CreatedBy("cogledger", "", "")}
	for _, c := range columns {
		options = append(options, parquet.KeyValueMetadata("about."+c.Name, described(c.Unit, c.About)))
	}
	w := parquet.NewGenericWriter[any](to, options...)
	row, held := make([]parquet.Row, 1), 0
	return func(values []any) error {
		row[0] = row[0][:0]
		for i, v := range values {
			row[0] = append(row[0], parquetValue(v, i))
		}
		if _, err := w.WriteRows(row); err != nil {
			return err
		}
		if held++; held%rowGroup == 0 {
			return w.Flush()
		}
		return nil
	}, w.Close
}

// schemaOf keeps the order of the columns.
func schemaOf[Row any](name string, columns []fleet.Column[Row]) *parquet.Schema {
	g := inOrder{Group: make(parquet.Group, len(columns))}
	for _, c := range columns {
		var node parquet.Node
		switch c.At(new(Row)).(type) {
		case *string:
			node = parquet.Required(parquet.String())
		case *int64:
			node = parquet.Required(parquet.Leaf(parquet.Int64Type))
		case *bool:
			node = parquet.Required(parquet.Leaf(parquet.BooleanType))
		case *float64:
			node = parquet.Optional(parquet.Leaf(parquet.DoubleType))
		case *time.Time:
			node = parquet.Optional(parquet.Timestamp(parquet.Millisecond))
		}
		g.Group[c.Name] = node
		g.names = append(g.names, c.Name)
	}
	return parquet.NewSchema(name, g)
}

// inOrder is a group whose fields stand in an order of their own; the library's
// are sorted by name.
type inOrder struct {
	parquet.Group
	names []string
}

func (g inOrder) Fields() []parquet.Field {
	fields := g.Group.Fields()
	slices.SortFunc(fields, func(a, b parquet.Field) int {
		return slices.Index(g.names, a.Name()) - slices.Index(g.names, b.Name())
	})
	return fields
}

func parquetValue(value any, column int) parquet.Value {
	switch v := value.(type) {
	case float64:
		if math.IsNaN(v) {
			return parquet.NullValue().Level(0, 0, column)
		}
		return parquet.DoubleValue(v).Level(0, 1, column)
	case time.Time:
		if v.IsZero() {
			return parquet.NullValue().Level(0, 0, column)
		}
		return parquet.Int64Value(v.UnixMilli()).Level(0, 1, column)
	case string:
		return parquet.ByteArrayValue([]byte(v)).Level(0, 0, column)
	case int64:
		return parquet.Int64Value(v).Level(0, 0, column)
	case bool:
		return parquet.BooleanValue(v).Level(0, 0, column)
	}
	panic("fleet: a value of a type that rows do not hold")
}
