package fleet

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"
	"time"

	"cogledger/analysis/fleet"
)

// sums of a fleet that was never ridden, for the page alone.
func sums(bikes int) fleet.Sums {
	draw := rand.New(rand.NewPCG(9, 9))
	first := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	tally := func(key, group string, rides int, perKm float64) fleet.Tally {
		t := fleet.Tally{Key: key, Group: group, Bikes: 1, Rides: int64(rides), Days: int64(rides), First: first, Last: first.AddDate(0, 0, 60), CapacityWh: 500, WindingPeakC: 60 + 40*draw.Float64(), WindingLimitC: 155}
		for range rides {
			km := 3 + 5*draw.Float64()
			t.Km += km
			t.Loss.Add(km, km*perKm*(0.6+0.8*draw.Float64()))
			t.Battery.Add(km, km*6)
			t.Resistance.Add(0.8 + 0.05*draw.NormFloat64())
		}
		t.PlanWh = 0.7 * t.Loss.Y
		t.LuggingS, t.InBandS, t.PedallingS, t.LegsLuggingS = 300, 4000, 4000, 900
		return t
	}
	var s fleet.Sums
	groups := []string{"north", "east", "south", "west", "yard"}
	for i := range bikes {
		perKm := 0.04 + 0.02*draw.Float64()
		if i < 3 {
			perKm = 0.3
		}
		s.Bikes = append(s.Bikes, tally(fmt.Sprintf("bike-%04d", i+1), groups[i%5], 12, perKm))
		s.Riders = append(s.Riders, tally(fmt.Sprintf("rider-%04d", i+1), groups[i%5], 12, perKm))
	}
	s.Bikes[1].Resistance = fleet.Moments{N: 5, X: 8, XX: 12.81}
	s.Bikes[2].OverLimitS = 90
	for _, g := range groups {
		t := tally(g, g, 200, 0.05)
		t.Bikes, t.Riders = int64(bikes/5), int64(bikes/5)
		s.Groups = append(s.Groups, t)
		s.Habits = append(s.Habits, fleet.HabitTally{Group: g, Kind: "tall-gear start", Bikes: 8, Riders: 8, Rides: 90, Count: 400, Opportunities: 900, CostWh: 12})
	}
	s.All = tally("", "", 500, 0.05)
	s.All.Bikes, s.All.Riders = int64(bikes), int64(bikes)
	s.All.DoubtWh, s.All.DoubtOfWh = 1, 8
	for w := range 9 {
		t := tally(fmt.Sprint(w), "", 50, 0.05-0.003*float64(w))
		t.First = first.AddDate(0, 0, 7*w)
		s.Spans = append(s.Spans, t)
	}
	for i := range 30 {
		lat, lon := 54.8+0.004*float64(i%6), 7.6+0.006*float64(i/6)
		c := fleet.CellTally{Cell: fleet.Cell(lat, lon), Direction: int64(i % 8), Bikes: 9, Riders: 9, Rides: 40, Seconds: 200, LossWh: 1 + draw.Float64(), Grade: 0.04, Lat: lat, Lon: lon}
		if i == 7 {
			c.LossWh = 30
		}
		s.Cells = append(s.Cells, c)
	}
	s.Logs = 500
	return s
}

func htmlOf(t testing.TB, s *fleet.Summary) string {
	t.Helper()
	var b bytes.Buffer
	must(t, HTML(&b, s, Options{Now: time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)}))
	return b.String()
}

func TestPageSaysWhatStandsOut(t *testing.T) {
	text := htmlOf(t, fleet.Summarise(sums(100), fleet.Options{}))
	for _, want := range []string{
		"3 riders lose clearly more", "3 bikes lose clearly more", "1 battery has clearly more resistance",
		"1 motor went over", "1 place costs far more", "bike-0001", "The loss falls by", "Works councils", "Every log could be used", "licensed workshop",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if strings.Contains(text, "NaN") || strings.Contains(text, "Inf") {
		t.Error("the page shows a number that is none")
	}
}

// No address but the namespace of drawings: the page needs no network.
func TestPageNeedsNoNetwork(t *testing.T) {
	text := htmlOf(t, fleet.Summarise(sums(30), fleet.Options{}))
	for _, address := range regexp.MustCompile(`(?i)(https?:)?//[a-z0-9.-]+\.[a-z]+[^"' ]*`).FindAllString(text, -1) {
		if address != "http://www.w3.org/2000/svg" {
			t.Errorf("the page names %s", address)
		}
	}
	if !strings.Contains(text, `default-src &#39;none&#39;; script-src &#39;sha256-`) || strings.Contains(text, " style=\"") || strings.Contains(text, "onclick") {
		t.Error("the page's policy does not hold")
	}
}

// Names and errors are data, whatever they hold.
func TestHostileNames(t *testing.T) {
	s := sums(30)
	evil := `</script><script>alert(1)</script><img src=x onerror=alert(1)>"'&`
	s.Bikes[0].Key, s.Riders[0].Key, s.Groups[0].Key, s.Bikes[0].Group = evil, evil, evil, evil
	s.Habits[0].Kind = evil
	s.Problems = []fleet.Problem{{Path: evil, Text: evil}}
	text := htmlOf(t, fleet.Summarise(s, fleet.Options{}))
	if strings.Contains(text, "<script>alert") || strings.Contains(text, "<img") {
		t.Error("a name became code")
	}
	if n := strings.Count(text, "</script>"); n != strings.Count(text, "<script") {
		t.Errorf("%d scripts end, %d begin", n, strings.Count(text, "<script"))
	}
}

// The script's data say the same as the tables.
func TestDataOfTheTables(t *testing.T) {
	text := htmlOf(t, fleet.Summarise(sums(60), fleet.Options{}))
	blocks := regexp.MustCompile(`(?s)<script type="application/json">(.*?)</script>`).FindAllStringSubmatch(text, -1)
	if len(blocks) < 6 {
		t.Fatalf("%d tables", len(blocks))
	}
	longest := 0
	for _, b := range blocks {
		var data struct {
			Columns []struct{ K, D int }
			Rows    [][]any
		}
		if err := json.Unmarshal([]byte(b[1]), &data); err != nil {
			t.Fatal(err)
		}
		longest = max(longest, len(data.Rows))
		for _, row := range data.Rows {
			if len(row) != len(data.Columns)+1 {
				t.Fatalf("a row of %d cells in a table of %d columns", len(row)-1, len(data.Columns))
			}
		}
	}
	if longest != 60 {
		t.Errorf("the longest table has %d rows", longest)
	}
}

// 5,000 bikes fit in a page that a browser opens at once.
func TestFiveThousandBikes(t *testing.T) {
	text := htmlOf(t, fleet.Summarise(sums(5000), fleet.Options{Private: true, Pseudonyms: fleet.Pseudonyms{Key: []byte("k")}}))
	if len(text) > 4<<20 {
		t.Errorf("%d bytes", len(text))
	}
	if strings.Contains(text, "rider-0001") {
		t.Error("a private page names a rider")
	}
}

func TestEmptyFleet(t *testing.T) {
	s := fleet.Sums{Problems: []fleet.Problem{{Path: "a.fit", Text: "broken"}}, All: fleet.Tally{WindingPeakC: math.NaN(), WindingLimitC: math.NaN()}}
	text := htmlOf(t, fleet.Summarise(s, fleet.Options{}))
	if !strings.Contains(text, "no ride to report on") || !strings.Contains(text, "broken") || strings.Contains(text, "NaN") {
		t.Error("the page of an empty fleet is wrong")
	}
}
