package ingest_test

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"cogledger/ingest"
	"cogledger/ingest/ride"
)

// One recorded ride as FIT, and written here as GPX 1.1 (topografix.com/GPX/1/1)
// and as TCX (TrainingCenterDatabase v2) with the decimals that exporters give:
// every channel that a format holds comes back equal within its rounding.
func TestSameRideInEveryFormat(t *testing.T) {
	path := filepath.Join(module(t, "github.com/tormoder/fit"), "testdata/dcrainmaker/Edge810-Vector-2013-08-16-15-35-10.fit")
	tracks, err := ingest.Open(path, ingest.Options{})
	if err != nil {
		t.Fatal(err)
	}
	fit := tracks[0]
	rounding := map[ride.Channel]float64{
		ride.Latitude: 0.5e-7, ride.Longitude: 0.5e-7, ride.Altitude: 0.05, ride.Speed: 0.0005,
		ride.Distance: 0.005, ride.CadenceRPM: 0.5, ride.RiderPower: 0.5, ride.AirTemp: 0.05,
	}
	for _, format := range []struct {
		name     string
		write    func(*ride.Track) string
		channels []ride.Channel
	}{
		{"GPX", asGPX, []ride.Channel{ride.Latitude, ride.Longitude, ride.Altitude, ride.Speed, ride.CadenceRPM, ride.RiderPower, ride.AirTemp}},
		{"TCX", asTCX, []ride.Channel{ride.Latitude, ride.Longitude, ride.Altitude, ride.Distance, ride.Speed, ride.CadenceRPM, ride.RiderPower}},
	} {
		read, err := ingest.Read([]byte(format.write(fit)), "same."+strings.ToLower(format.name), ingest.Options{})
		if err != nil || len(read) != 1 || read[0].Sources[0].Format != format.name {
			t.Fatalf("%s: %d tracks, %v", format.name, len(read), err)
		}
		other := read[0]
		if len(other.Time) != len(fit.Time) {
			t.Fatalf("%s: %d samples of %d", format.name, len(other.Time), len(fit.Time))
		}
		for i := range fit.Time {
			if a, b := at(fit, i), at(other, i); !a.Equal(b) {
				t.Fatalf("%s: sample %d at %v, not %v", format.name, i, b, a)
			}
		}
		for _, c := range format.channels {
			if !fit.Has(c) {
				t.Errorf("the ride has no %v to compare", c)
				continue
			}
			same, known := 0, 0
			for i := range fit.Time {
				a, b := fit.Values[c][i], math.NaN()
				if other.Values[c] != nil {
					b = other.Values[c][i]
				}
				if math.IsNaN(a) != math.IsNaN(b) || math.Abs(a-b) > rounding[c]*(1+1e-6) {
					t.Errorf("%s: %v of sample %d is %v, not %v", format.name, c, i, b, a)
					break
				}
				same++
				if !math.IsNaN(a) {
					known++
				}
			}
			t.Logf("%s: %v: %d samples equal, %d of them known", format.name, c, same, known)
		}
		// On the clock the rides are as long, and as far within rounding.
		a, errA := fit.Ride()
		b, errB := other.Ride()
		if errA != nil || errB != nil || a.Len() != b.Len() || !a.Start.Equal(b.Start) {
			t.Fatalf("%s: %v, %v: %d s and %d s", format.name, errA, errB, a.Len(), b.Len())
		}
		end := a.Len() - 1
		if far, apart := a.At(ride.Distance, end), b.At(ride.Distance, end); math.Abs(far-apart) > 0.005*far {
			t.Errorf("%s: %g m, not %g", format.name, apart, far)
		}
	}
}

func at(t *ride.Track, i int) time.Time {
	return t.Epoch.Add(time.Duration(math.Round(t.Time[i]*1000)) * time.Millisecond)
}

// element is an XML element with a number, empty where there is none.
func element(form string, t *ride.Track, c ride.Channel, i int) string {
	if t.Values[c] == nil || math.IsNaN(t.Values[c][i]) {
		return ""
	}
	return fmt.Sprintf(form, t.Values[c][i])
}

// asGPX drops nothing but what GPX has no place for: a point without a position
// is written with one that cannot be.
func asGPX(t *ride.Track) string {
	var b strings.Builder
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" creator="a test" xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="urn:x"><trk><trkseg>`)
	for i := range t.Time {
		place := `lat="999" lon="999"`
		if !math.IsNaN(t.Values[ride.Latitude][i]) {
			place = fmt.Sprintf(`lat="%.7f" lon="%.7f"`, t.Values[ride.Latitude][i], t.Values[ride.Longitude][i])
		}
		fmt.Fprintf(&b, "<trkpt %s>%s<time>%s</time><extensions>%s<x:point>%s%s%s</x:point></extensions></trkpt>\n", place,
			element("<ele>%.1f</ele>", t, ride.Altitude, i), at(t, i).Format(time.RFC3339Nano), element("<power>%.0f</power>", t, ride.RiderPower, i),
			element("<x:atemp>%.1f</x:atemp>", t, ride.AirTemp, i), element("<x:cad>%.0f</x:cad>", t, ride.CadenceRPM, i), element("<x:speed>%.3f</x:speed>", t, ride.Speed, i))
	}
	b.WriteString("</trkseg></trk></gpx>")
	return b.String()
}

func asTCX(t *ride.Track) string {
	var b strings.Builder
	b.WriteString(`<?xml version="1.0"?><TrainingCenterDatabase xmlns:n="urn:n"><Activities><Activity Sport="Biking"><Lap><Track>`)
	for i := range t.Time {
		place := element("<LatitudeDegrees>%.7f</LatitudeDegrees>", t, ride.Latitude, i) + element("<LongitudeDegrees>%.7f</LongitudeDegrees>", t, ride.Longitude, i)
		if place != "" {
			place = "<Position>" + place + "</Position>"
		}
		fmt.Fprintf(&b, "<Trackpoint><Time>%s</Time>%s%s%s%s<Extensions><n:TPX>%s%s</n:TPX></Extensions></Trackpoint>\n", at(t, i).Format(time.RFC3339Nano), place,
			element("<AltitudeMeters>%.1f</AltitudeMeters>", t, ride.Altitude, i), element("<DistanceMeters>%.2f</DistanceMeters>", t, ride.Distance, i),
			element("<Cadence>%.0f</Cadence>", t, ride.CadenceRPM, i), element("<n:Speed>%.3f</n:Speed>", t, ride.Speed, i), element("<n:Watts>%.0f</n:Watts>", t, ride.RiderPower, i))
	}
	b.WriteString("</Track></Lap></Activity></Activities></TrainingCenterDatabase>")
	return b.String()
}
