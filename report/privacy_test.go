package report

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/tidwall/geodesic"

	"cogledger/ingest/ride"
)

// What must not be found in anything that a private report writes: times,
// file names, serial numbers, and positions near the ends. Distances are
// checked by a geodesic library.
func TestPrivacy(t *testing.T) {
	set := sampleSet(2, 900)
	set.Rides[0].Ride.Sources[0].File = "2026-06-01-home-to-work.fit"
	set.Rides[0].Notes = append(set.Rides[0].Notes, ride.Note{File: "2026-06-01-home-to-work.fit", Text: "2026-06-01-home-to-work.fit was cut short; device 12345"})
	o := Options{Privacy: true}
	page := pageOf(t, set, o)
	dir := t.TempDir()
	if err := CSV(set, o, into(dir)); err != nil {
		t.Fatal(err)
	}
	seconds, _ := os.ReadFile(filepath.Join(dir, "seconds.csv"))
	segments, _ := os.ReadFile(filepath.Join(dir, "segments.csv"))
	doc, err := json.Marshal(NewDocument(set, o))
	if err != nil {
		t.Fatal(err)
	}
	secret := regexp.MustCompile(`2026-06-|June 2026|home-to-work|morning\.fit|12345|Morning round|To the quay|06:3\d`)
	for name, text := range map[string]string{"page": page, "seconds": string(seconds), "segments": string(segments), "JSON": string(doc)} {
		if at := secret.FindString(text); at != "" {
			t.Errorf("%s gives away %q", name, at)
		}
	}

	var ends [][2]float64
	for _, r := range set.Rides {
		lat, lon := r.Ride.Column(ride.Latitude), r.Ride.Column(ride.Longitude)
		last := len(lat) - 1
		ends = append(ends, [2]float64{lat[0], lon[0]}, [2]float64{lat[last], lon[last]})
	}
	near := func(lat, lon float64) bool {
		for _, e := range ends {
			var metres float64
			geodesic.WGS84.Inverse(lat, lon, e[0], e[1], &metres, nil, nil)
			if metres < 0.99*hiddenMetres {
				return true
			}
		}
		return false
	}
	rows := readCSV(t, filepath.Join(dir, "seconds.csv"))
	shown := 0
	for _, row := range rows[1:] {
		if row[1] != "" {
			t.Fatalf("a time: %q", row[1])
		}
		lat, err1 := strconv.ParseFloat(row[2], 64)
		lon, err2 := strconv.ParseFloat(row[3], 64)
		if err1 == nil && err2 == nil {
			shown++
			if near(lat, lon) {
				t.Fatalf("second %s shows a place within %d m of an end", row[0], hiddenMetres)
			}
		}
	}
	if shown == 0 {
		t.Error("nothing of the course is left")
	}
	for _, r := range set.Rides {
		d := r.Road.Distance
		if shownSeconds := len(rows) - 1; shownSeconds >= 2*len(d) {
			t.Error("the ends are not cut")
		}
	}
}

func TestPrivacyOfAShortRide(t *testing.T) {
	page := pageOf(t, sampleSet(1, 100), Options{Privacy: true})
	if !strings.Contains(page, "Nothing is left to show once the first and the last 500 m are taken away") {
		t.Error("a ride under a kilometre still shows its course")
	}
}

// The distances left out are those of the log.
func TestEndsAreCutAt500Metres(t *testing.T) {
	v := newView(sampleResult(900, 0), 1, 1, nil, Options{Privacy: true})
	d := v.Road.Distance
	if d[v.from] < 500 || d[v.from-1] >= 500 {
		t.Errorf("starts at %.1f m", d[v.from])
	}
	if end := d[len(d)-1]; d[v.to-1] > end-500 || d[v.to] <= end-500 {
		t.Errorf("ends %.1f m before the end", end-d[v.to-1])
	}
}
