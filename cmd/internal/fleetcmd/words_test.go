package fleetcmd

import (
	"bytes"
	"html"
	"regexp"
	"strings"
	"testing"

	"cogledger/analysis/fleet"
	fleetreport "cogledger/report/fleet"
)

// Whatever the terminal says of a fleet, line by line and figure by figure,
// stands on its page too, with the same digits.
func TestTerminalSaysWhatThePageSays(t *testing.T) {
	for _, perKm := range []float64{0.0123, 0.456, 12.3} {
		sum := fleet.Summarise(sumsOf(perKm), fleet.Options{})
		var page, terminal bytes.Buffer
		if err := fleetreport.HTML(&page, sum, fleetreport.Options{}); err != nil {
			t.Fatal(err)
		}
		summary(&terminal, sum)
		text := html.UnescapeString(page.String())
		if !strings.Contains(terminal.String(), "stand out by energy lost") {
			t.Fatalf("no table in\n%s", &terminal)
		}
		figures := regexp.MustCompile(`\d+(?:[.,\x{202f}\x{2009}]\d+)*`)
		for _, line := range strings.Split(terminal.String(), "\n") {
			for _, f := range figures.FindAllString(line, -1) {
				if !strings.Contains(text, f) {
					t.Errorf("%g Wh/km: the page does not hold %s of %q", perKm, f, line)
				}
			}
		}
		for _, line := range fleetreport.Lines(sum)[1:3] {
			if !strings.Contains(text, line) {
				t.Errorf("%g Wh/km: not on the page: %q", perKm, line)
			}
		}
	}
}

// sumsOf is a fleet of 20 bikes of which one loses ten times as much.
func sumsOf(perKm float64) fleet.Sums {
	var s fleet.Sums
	for i := range 20 {
		b := fleet.Tally{Key: "bike " + string(rune('A'+i)), Bikes: 1, Rides: 12, Days: 12, LuggingS: 100, InBandS: 900, CapacityWh: 500}
		of := perKm * (1 + 0.01*float64(i%5))
		if i == 7 {
			of *= 10
		}
		for k := range 12 {
			km := 8 + 0.37*float64(k)
			b.Km += km
			b.Loss.Add(km, km*of*(1+0.2*float64(k%3-1)))
			s.All.Loss.Add(km, km*of*(1+0.2*float64(k%3-1)))
			s.All.Battery.Add(km, km*60)
		}
		s.All.Km += b.Km
		s.Bikes = append(s.Bikes, b)
	}
	s.All.Bikes, s.All.Rides, s.All.Days, s.All.LuggingS, s.All.InBandS, s.All.CapacityWh = 20, 240, 60, 2000, 18000, 500
	s.All.Doubted, s.All.DoubtWh, s.All.DoubtOfWh = 61, 1, 8
	return s
}
