package ingest_test

import (
	"fmt"
	"strings"
	"testing"

	"cogledger/ingest"
	"cogledger/ingest/ride"
)

// Four hundred times ten samples six hours apart are 80 kB of text and would be
// eight months on the clock.
func TestFewLinesClaimMonths(t *testing.T) {
	var table strings.Builder
	table.WriteString("elapsed_s,speed_kmh\n")
	at := 0
	for range 400 {
		for range 10 {
			fmt.Fprintf(&table, "%d,20\n", at)
			at += ride.LongestPause - 1
		}
		at += 10
	}
	tracks, err := ingest.Read([]byte(table.String()), "months.csv", ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	seconds := 0
	for _, track := range tracks {
		seconds += int(min(track.Time[len(track.Time)-1]-track.Time[0], ride.LongestRide-1)) + 1 // Ride cuts the rest
	}
	const limit = 2_000_000
	if seconds > limit || seconds < limit*8/10 {
		t.Errorf("%d s in %d rides", seconds, len(tracks))
	}
	if !strings.Contains(fmt.Sprint(tracks[0].Notes), "left out: together they last longer") {
		t.Errorf("%v", tracks[0].Notes)
	}
	one, err := ingest.Read([]byte(table.String()), "months.csv", ingest.Options{Limits: ingest.Limits{Seconds: 1}})
	if err != nil || len(one) != 1 {
		t.Errorf("the first ride is always kept: %d, %v", len(one), err)
	}
}
