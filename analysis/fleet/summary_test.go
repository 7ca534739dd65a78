package fleet

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/golang/geo/s2"
)

// tallyOf is a bike or rider with n rides of 10 km, each losing about perKm.
func tallyOf(key, group string, n int, perKm float64) Tally {
	t := Tally{Key: key, Group: group, Bikes: 1, Rides: int64(n), Days: int64(n), CapacityWh: 500, WindingPeakC: math.NaN(), WindingLimitC: 155}
	t.First = time.Date(2026, 5, 1, 8, 0, 0, 0, time.UTC)
	t.Last = t.First.AddDate(0, 0, 29)
	for i := range n {
		t.Loss.Add(10, 10*perKm*(1+0.2*float64(i%3-1)))
		t.Battery.Add(10, 60)
		t.Km += 10
	}
	t.PlanWh = t.Loss.Y / 2
	t.LuggingS, t.InBandS = 100, 900
	return t
}

func fleetOf(bikes int) Sums {
	var s Sums
	for i := range bikes {
		s.Bikes = append(s.Bikes, tallyOf(fmt.Sprintf("Velo %03d", i), []string{"north", "south"}[i%2], 12, 0.5+0.01*float64(i%7)))
		s.Riders = append(s.Riders, tallyOf(fmt.Sprintf("Ada %03d", i), []string{"north", "south"}[i%2], 12, 0.5+0.01*float64(i%7)))
	}
	s.All = tallyOf("", "", 12*bikes, 0.5)
	s.All.Bikes, s.All.Riders = int64(bikes), int64(bikes)
	s.Groups = []Tally{tallyOf("north", "north", 60, 0.5), tallyOf("south", "south", 60, 0.5), tallyOf("tiny", "tiny", 60, 0.5)}
	s.Groups[0].Bikes, s.Groups[0].Riders = 20, 20
	s.Groups[1].Bikes, s.Groups[1].Riders = 20, 20
	s.Groups[2].Bikes, s.Groups[2].Riders = 20, 4
	return s
}

func TestRankingNeedsEnoughData(t *testing.T) {
	s := fleetOf(40)
	s.Bikes[7] = tallyOf("Velo 007", "north", 12, 1.5)
	s.Bikes[8] = tallyOf("Velo 008", "south", 4, 9) // too few rides, whatever they say
	sum := Summarise(s, Options{})
	if top := sum.Bikes[0]; top.Name != "Velo 007" || top.Verdict != StandsOut || top.Rank != 1 {
		t.Errorf("first is %+v", top)
	}
	if last := sum.Bikes[39]; last.Name != "Velo 008" || last.Verdict != TooLittle || last.Rank != 0 {
		t.Errorf("last is %+v", last)
	}
	for _, l := range sum.Bikes[1:39] {
		if l.Verdict != Typical {
			t.Errorf("%s is judged %v", l.Name, l.Verdict)
		}
		if l.Chance.Low > l.Chance.Value || l.Chance.High < l.Chance.Value || l.LossPerKm.High < l.Chance.High {
			t.Errorf("%s: %+v and %+v", l.Name, l.LossPerKm, l.Chance)
		}
	}
}

// 0.5 Wh/km on 120 km in 30 days are 60 Wh, half of it within reach: 30 Wh or
// 0.06 batteries of 500 Wh. By hand.
func TestWorthAMonth(t *testing.T) {
	tally := tallyOf("b", "", 12, 0.5)
	l := line(&tally, math.NaN())
	if math.Abs(l.Worth.Km-120) > 1e-9 || math.Abs(l.Worth.LossWh.Value-60) > 1e-9 || math.Abs(l.Worth.PlanWh-30) > 1e-9 || math.Abs(l.Worth.Charges-0.06) > 1e-12 {
		t.Errorf("%+v", l.Worth)
	}
	tally.Last = tally.First // one busy day is taken as a week
	if l := line(&tally, math.NaN()); math.Abs(l.Worth.Km-120*30/7.0) > 1e-9 {
		t.Errorf("%+v", l.Worth)
	}
	tally.First, tally.Last = time.Time{}, time.Time{}
	if l := line(&tally, math.NaN()); !math.IsNaN(l.Worth.Km) {
		t.Errorf("a month without dates: %+v", l.Worth)
	}
}

// 3 and 4 add to 5 in quadrature.
func TestDoubtWidensTheRange(t *testing.T) {
	e := Estimate{Value: 40, SE: 3 / 1.6448536269514722, N: 1e9}
	r := widened(e, 4.0/40)
	if math.Abs(r.High-45) > 1e-4 || math.Abs(r.Low-35) > 1e-4 {
		t.Errorf("%+v", r)
	}
}

func TestPrivateSummaryNamesNobody(t *testing.T) {
	s := fleetOf(40)
	s.Bikes[3].Resistance = Moments{N: 4, X: 4, XX: 4}
	s.Habits = []HabitTally{
		{Group: "north", Kind: "tall-gear start", Bikes: 9, Riders: 9, Count: 30, CostWh: 5},
		{Group: "north", Kind: "late down-shift", Bikes: 9, Riders: 2, Count: 30, CostWh: 5},
		{Group: "tiny", Kind: "tall-gear start", Bikes: 9, Riders: 4, Count: 30, CostWh: 5},
	}
	s.Cells = []CellTally{
		{Cell: Cell(47, 9), Direction: 2, Bikes: 9, Riders: 9, LossWh: 3},
		{Cell: Cell(47.1, 9), Direction: 2, Bikes: 9, Riders: 3, LossWh: 3},
	}
	s.Problems = []Problem{{"/srv/logs/Ada 001/monday.fit", "monday.fit is broken"}}
	o := Options{Private: true, Pseudonyms: Pseudonyms{Key: []byte("a key")}}
	sum := Summarise(s, o)
	text := fmt.Sprintf("%+v %+v %+v %+v", sum.Bikes, sum.Riders, sum.Groups, sum.Problems)
	for _, name := range []string{"Ada", "Velo", "tiny", "monday"} {
		if strings.Contains(text, name) {
			t.Errorf("a private summary holds %q", name)
		}
	}
	if sum.Battery[0].Bike != "Velo 003" {
		t.Errorf("the workshop cannot find %q", sum.Battery[0].Bike)
	}
	if len(sum.Groups) != 2 || sum.HiddenGroups != 1 || len(sum.Groups[0].Habits)+len(sum.Groups[1].Habits) != 1 || len(sum.Places) != 1 {
		t.Errorf("%d groups, %d hidden, %d places", len(sum.Groups), sum.HiddenGroups, len(sum.Places))
	}
	again := Summarise(fleetOf(40), o)
	if again.Bikes[0].Name != sum.Bikes[0].Name {
		t.Error("pseudonyms change from report to report")
	}
	few := fleetOf(40)
	few.Riders = few.Riders[:4]
	if sum := Summarise(few, o); len(sum.Riders) != 0 || !sum.RidersHidden {
		t.Error("four riders are listed one by one")
	}
}

func TestPseudonymsDiffer(t *testing.T) {
	seen := make(map[string]string)
	p := Pseudonyms{Key: []byte("a key")}
	for i := range 5000 {
		name := fmt.Sprintf("bike %d", i)
		code := p.Of("bike", name)
		if other, is := seen[code]; is {
			t.Errorf("%s and %s are both %s", name, other, code)
		}
		seen[code] = name
	}
	if p.Of("bike", "x")[len("bike"):] == p.Of("rider", "x")[len("rider"):] {
		t.Error("a bike and a rider of one name have one code")
	}
	if (Pseudonyms{Key: []byte("another")}).Of("bike", "bike 1") == p.Of("bike", "bike 1") {
		t.Error("another key gives the same pseudonyms")
	}
	if p.Of("rider", "") != "" {
		t.Error("an unknown rider has a pseudonym")
	}
}

// Bearings by the compass.
func TestDirection(t *testing.T) {
	tests := []struct {
		east, north float64
		want        string
	}{{0, 10, "north"}, {10, 10, "north-east"}, {10, 0, "east"}, {10, -10, "south-east"}, {0, -10, "south"}, {-10, -10, "south-west"}, {-10, 0, "west"}, {-10, 10, "north-west"}, {-1, 10, "north"}, {1, 1, "unknown"}, {math.NaN(), 4, "unknown"}}
	for _, test := range tests {
		if got := DirectionName(Direction(test.east, test.north)); got != test.want {
			t.Errorf("%v m east, %v m north: %s, want %s", test.east, test.north, got, test.want)
		}
	}
}

// Cells that touch and are ridden the same way are one place; far ones and the
// other way are not. The cells' neighbourhood is the
// library's.
func TestPlacesJoinCells(t *testing.T) {
	a := s2.CellIDFromLatLng(s2.LatLngFromDegrees(47.05, 8.3)).Parent(CellLevel)
	b, typical := a.EdgeNeighbors()[0], a.EdgeNeighbors()[1]
	cells := []CellTally{
		{Cell: int64(a), Direction: 1, Bikes: 7, Riders: 6, Rides: 20, Seconds: 60, LossWh: 300, Grade: 0.06, Lat: 47, Lon: 8},
		{Cell: int64(b), Direction: 1, Bikes: 9, Riders: 5, Rides: 10, Seconds: 30, LossWh: 100, Grade: 0.02, Lat: 47.001, Lon: 8},
		{Cell: int64(b), Direction: 5, Bikes: 9, Rides: 5, LossWh: 90, Grade: math.NaN()},
		{Cell: int64(typical), Direction: 1, Bikes: 9, Rides: 5, LossWh: 1, Grade: math.NaN(), Lat: 47, Lon: 8},
		{Cell: int64(a), Direction: 6, Bikes: 2, Rides: 5, LossWh: 900, Grade: math.NaN()},
		{Cell: 0, Direction: -1, Bikes: 9, LossWh: 900},
	}
	for i := range 20 {
		cells = append(cells, CellTally{Cell: int64(a.Advance(int64(3000 + 50*i))), Direction: 1, Bikes: 9, LossWh: 1 + 0.1*float64(i%5)})
	}
	var out []Place
	for _, p := range places(cells) {
		if p.Verdict == StandsOut {
			out = append(out, p)
		}
	}
	if len(out) != 2 || len(places(cells)) != 23 {
		t.Fatalf("%d places stand out of %d: %+v", len(out), len(places(cells)), out)
	}
	p := out[0]
	if p.Cells != 3 || p.Bikes != 9 || p.Riders != 6 || p.Stretches != 35 || p.Seconds != 90 || p.LossWh != 401 || math.Abs(p.Grade-0.05) > 1e-6 || math.Abs(p.Lat-47.00025) > 1e-3 {
		t.Errorf("%+v", p)
	}
}

func TestPlaceStandsOut(t *testing.T) {
	var cells []CellTally
	for i := range 60 {
		c := s2.CellIDFromLatLng(s2.LatLngFromDegrees(47+0.01*float64(i), 8)).Parent(CellLevel)
		cells = append(cells, CellTally{Cell: int64(c), Direction: 0, Bikes: 9, LossWh: 1 + 0.1*float64(i%9)})
	}
	cells[17].LossWh = 30
	for i, p := range places(cells) {
		if (p.Verdict == StandsOut) != (i == 0) {
			t.Errorf("place %d with %v Wh: %v", i, p.LossWh, p.Verdict)
		}
	}
	if got := places(cells[:5]); got[0].Verdict != TooLittle {
		t.Error("five places are compared")
	}
}

func TestBatteriesAgainstTheFleet(t *testing.T) {
	var bikes []Tally
	for i := range 30 {
		b := Tally{Key: fmt.Sprintf("bike %02d", i)}
		ratio := 0.8 + 0.004*float64(i)
		if i == 11 {
			ratio = 1.9
		}
		for k := range 6 {
			b.Resistance.Add(ratio * (1 + 0.03*float64(k%3-1)))
		}
		if i == 12 {
			b.Resistance = Moments{N: 2, X: 8, XX: 32.1}
		}
		bikes = append(bikes, b)
	}
	for _, l := range batteries(bikes) {
		want := Typical
		switch l.Bike {
		case "bike 11":
			want = StandsOut
		case "bike 12":
			want = TooLittle
		}
		if l.Verdict != want {
			t.Errorf("%s at %v: %v, want %v", l.Bike, l.Ratio.Value, l.Verdict, want)
		}
	}
}

// Sums that say of a part but not of its whole tell nothing, rather than
// infinity.
func TestNoPartOfNothing(t *testing.T) {
	all := Tally{Key: "bike", Rides: 1, LegsLuggingS: 5, LuggingS: -1, InBandS: 1, DoubtWh: 3, Resistance: Moments{N: 3}}
	sum := Summarise(Sums{All: all, Bikes: []Tally{all}}, Options{})
	for name, v := range map[string]float64{
		"legs": sum.Fleet.LegsShare, "lugging": sum.Fleet.LuggingShare, "doubt": sum.DoubtShare, "battery": sum.Battery[0].OfFleet,
	} {
		if !math.IsNaN(v) {
			t.Errorf("%s: %v", name, v)
		}
	}
}

func TestSummaryOfNothing(t *testing.T) {
	for _, private := range []bool{false, true} {
		sum := Summarise(Sums{All: Tally{WindingPeakC: math.NaN(), WindingLimitC: math.NaN()}}, Options{Private: private})
		if len(sum.Bikes) != 0 || !math.IsNaN(sum.Fleet.LossPerKm.Value) || !math.IsNaN(sum.DoubtShare) {
			t.Errorf("%+v", sum)
		}
	}
}
