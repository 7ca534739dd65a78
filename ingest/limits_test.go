package ingest_test

import (
	"errors"
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

func TestSamplesOfAnArchive(t *testing.T) {
	archive := zipped(t, member{"a.csv", []byte(tableLog)}, member{"b.csv", []byte(tableLog)}, member{"c.csv", []byte(tableLog)})
	all, err := ingest.Read(archive, "week.zip", ingest.Options{})
	if err != nil || len(all) != 3 {
		t.Fatalf("%d tracks, %v", len(all), err)
	}
	few := ingest.Options{Limits: ingest.Limits{Samples: 2*len(all[0].Time) - 1}}
	tracks, err := ingest.Read(archive, "week.zip", few)
	if err != nil || len(tracks) != 2 || !strings.Contains(fmt.Sprint(tracks[0].Notes), "up to b.csv") {
		t.Errorf("%d tracks, %v: %v", len(tracks), err, tracks[0].Notes)
	}
}

func TestFilesOfAnArchive(t *testing.T) {
	var members []member
	for i := range 1001 {
		members = append(members, member{fmt.Sprintf("%d.csv", i), nil})
	}
	if _, err := ingest.Read(zipped(t, members...), "many.zip", ingest.Options{}); !errors.Is(err, ingest.ErrTooLarge) || !strings.Contains(err.Error(), "many.zip") || !strings.Contains(err.Error(), "1001 files") {
		t.Errorf("got %v", err)
	}
}

// Positions and times that no ride has are left out and said.
func TestOutOfRange(t *testing.T) {
	tests := []struct {
		reason, log, say string
		channel          ride.Channel
		known            int // seconds that the channel is known in
	}{
		{"latitude", "elapsed_s,lat,lon,speed_kmh\n0,91,7,20\n1,51,7,20\n2,51,7,20\n", "latitude 91", ride.Latitude, 2},
		{"longitude", "elapsed_s,lat,lon,speed_kmh\n0,51,-180.5,20\n1,51,7,20\n2,51,7,20\n", "longitude -180.5", ride.Longitude, 2},
		{"speed", "elapsed_s,speed_kmh\n0,20\n1,145\n2,20\n", "speed 40.27", ride.Speed, 3}, // bridged
		{"height", "elapsed_s,altitude_m,speed_kmh\n0,9001,20\n1,100,20\n2,100,20\n", "altitude 9001", ride.Altitude, 2},
		{"volts", "elapsed_s,battery_voltage_v,speed_kmh\n0,0.5,20\n1,48,20\n2,48,20\n", "battery_voltage 0.5", ride.BatteryVolts, 2},
		{"time", "time,speed_kmh\n2026-05-04T06:30:00Z,20\n2026-13-45T99:30:01Z,20\n2026-05-04T06:30:02Z,20\n", "2026-13-45", ride.Speed, 3},
	}
	for _, tt := range tests {
		tracks, err := ingest.Read([]byte(tt.log), "odd.csv", ingest.Options{})
		if err != nil {
			t.Errorf("%s: %v", tt.reason, err)
			continue
		}
		r, err := tracks[0].Ride()
		if err != nil {
			t.Errorf("%s: %v", tt.reason, err)
			continue
		}
		known := 0
		for i := range r.Len() {
			if low, high := tt.channel.Plausible(); r.At(tt.channel, i) >= low && r.At(tt.channel, i) <= high {
				known++
			}
		}
		if known != tt.known || !strings.Contains(fmt.Sprint(r.Notes), tt.say) || !strings.Contains(fmt.Sprint(r.Notes), "odd.csv") {
			t.Errorf("%s: %d s known, %v", tt.reason, known, r.Notes)
		}
	}
}

// A ride longer than two days is cut, and said.
func TestLongestRide(t *testing.T) {
	var table strings.Builder
	table.WriteString("elapsed_s,speed_kmh\n")
	for hour := range 60 {
		fmt.Fprintf(&table, "%d,20\n", hour*3600)
	}
	tracks, err := ingest.Read([]byte(table.String()), "left-on.csv", ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	r, err := tracks[0].Ride()
	if err != nil || r.Len() > ride.LongestRide || !strings.Contains(fmt.Sprint(r.Notes), "after the first 48 h") {
		t.Errorf("%d s, %v, %v", r.Len(), err, r.Notes)
	}
}
