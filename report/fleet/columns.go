package fleet

import (
	"fmt"
	"strings"
	"time"

	"cogledger/analysis/fleet"
)

// Columns describes the tables of an export in Markdown.
func Columns() string {
	var b strings.Builder
	b.WriteString("# Columns of a fleet export\n\n" +
		"Numbers that a log cannot tell are null in Parquet and empty in CSV; they are never zero. Times are UTC.\n" +
		"Parquet lies in one folder a month; the folder's name is the column `month`, as query engines read it.\n" +
		"`habits` and `segments` belong to the ride of the same `content` and `part`; in private exports no row names its ride, bike or rider, and figures are rounded to two digits.\n")
	describe(&b, "rides", "One row a ride.", fleet.RideColumns())
	describe(&b, "habits", "One row a ride and kind of habit.", fleet.HabitColumns())
	describe(&b, "segments", "One row a stretch of lugging, in one cell of the map and one direction.", fleet.SegmentColumns())
	return b.String()
}

func describe[Row any](b *strings.Builder, name, about string, columns []fleet.Column[Row]) {
	fmt.Fprintf(b, "\n## %s\n\n%s\n\n| column | type | unit | what |\n|---|---|---|---|\n", name, about)
	for _, c := range columns {
		kind := "text"
		switch c.At(new(Row)).(type) {
		case *int64:
			kind = "whole number"
		case *float64:
			kind = "number or null"
		case *bool:
			kind = "true or false"
		case *time.Time:
			kind = "time or null"
		}
		fmt.Fprintf(b, "| %s | %s | %s | %s |\n", c.Name, kind, c.Unit, c.About)
	}
}

// described is a column's description with its unit.
func described(unit, about string) string {
	if unit == "" {
		return about
	}
	return unit + "; " + about
}
