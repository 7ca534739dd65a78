package store

import (
	"strings"

	"cogledger/analysis/fleet"
)

// RowsQuery asks for columns of a table; after is what follows its name.
func RowsQuery[Row any](columns []fleet.Column[Row], table, after string) string {
	return "SELECT " + strings.Join(Names(columns), ", ") + " FROM " + table + " " + after
}

// A Cursor walks over the rows of an answer.
type Cursor interface {
	Next() bool
	Scan(into ...any) error
	Err() error
}

// Each gives every row of an answer to RowsQuery, always in the same place, and
// the error that ended it, as explained.
func Each[Row any](found Cursor, columns []fleet.Column[Row], explain func(error) error, yield func(*Row, error) bool) {
	row := new(Row)
	into := make([]any, len(columns))
	for i, c := range columns {
		into[i] = Into(c.At(row))
	}
	for found.Next() {
		if err := found.Scan(into...); err != nil {
			yield(nil, explain(err))
			return
		}
		if !yield(row, nil) {
			return
		}
	}
	if err := found.Err(); err != nil {
		yield(nil, explain(err))
	}
}
