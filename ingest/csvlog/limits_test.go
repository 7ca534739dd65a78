package csvlog_test

import (
	"fmt"
	"strings"
	"testing"

	"cogledger/ingest/csvlog"
)

func TestManyRows(t *testing.T) {
	var table strings.Builder
	table.WriteString("elapsed_s,speed_kmh\n")
	for i := range 50 {
		fmt.Fprintf(&table, "%d,20\n", i)
	}
	track, err := csvlog.Read([]byte(table.String()), "long.csv", csvlog.Options{Rows: 20})
	if err != nil || len(track.Time) != 20 || !said(track, "more rows") {
		t.Errorf("%v, %v", track, err)
	}
}

// A line too long for a row is cut, and the rows around it are read.
func TestLongLine(t *testing.T) {
	table := "elapsed_s,speed_kmh\n0,20\n1," + strings.Repeat("9", 1<<20) + "\n2,20\n"
	track, err := csvlog.Read([]byte(table), "wide.csv", csvlog.Options{})
	if err != nil || len(track.Time) < 2 || len(track.Notes) == 0 {
		t.Fatalf("%v, %v", track, err)
	}
	for _, n := range track.Notes {
		if len(n.String()) > 1000 {
			t.Errorf("a note of %d bytes", len(n.String()))
		}
	}
}
