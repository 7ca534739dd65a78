package store

import (
	"slices"
	"time"

	"cogledger/analysis/fleet"
)

// A Table is a table of rows as a database needs to know it.
type Table struct {
	Name    string
	Columns []TableColumn
}

// A TableColumn is one column: At is a pointer of the type of its values, as
// that of a fleet.Column.
type TableColumn struct {
	Name string
	At   any
}

// Tables lists the tables of rows. Their columns follow from those of package
// fleet: where a store lacks one that stands there, it is added.
func Tables() []Table {
	return []Table{
		table("rides", fleet.RideColumns()),
		table("habits", fleet.HabitColumns()),
		table("segments", fleet.SegmentColumns()),
		table("logs", fleet.LogColumns()),
	}
}

func table[Row any](name string, columns []fleet.Column[Row]) Table {
	t := Table{Name: name}
	for _, c := range columns {
		t.Columns = append(t.Columns, TableColumn{c.Name, c.At(new(Row))})
	}
	return t
}

// Types are how a database declares columns. Those that cannot be null have a
// default, for rows of before there was the column and of programs that do not
// know it; such rows are of another version and are made again.
type Types struct{ Text, Whole, Real, Truth, Time string }

// Missing gives the statements that add the columns which a table lacks.
func (t Table) Missing(there []string, types Types) []string {
	var statements []string
	for _, c := range t.Columns {
		if slices.Contains(there, c.Name) {
			continue
		}
		kind := types.Text
		switch c.At.(type) {
		case *int64:
			kind = types.Whole
		case *float64:
			kind = types.Real
		case *bool:
			kind = types.Truth
		case *time.Time:
			kind = types.Time
		}
		statements = append(statements, "ALTER TABLE "+t.Name+" ADD COLUMN "+c.Name+" "+kind)
	}
	return statements
}
