package report

import (
	"bytes"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"cogledger/analysis/drive"
)

// The columns that others read by name, in their order; new ones go to the end.
const secondColumns = "t_s time lat lon altitude_m grade speed_mps cadence_rpm rider_w battery_v battery_a battery_w " +
	"front rear gear_probability motor_rpm motor_a motor_out_w efficiency class legs_class winding_c plan_front plan_rear plan_battery_w"

// Read back, the tables add up to the ride they were made from.
func TestTablesAddUp(t *testing.T) {
	set := sampleSet(2, 900)
	dir := t.TempDir()
	if err := CSV(set, Options{Imperial: true}, into(dir)); err != nil { // SI all the same
		t.Fatal(err)
	}
	seconds := readCSV(t, filepath.Join(dir, "seconds.csv"))
	if head := strings.Join(seconds[0], " "); !strings.HasPrefix(head, secondColumns) {
		t.Fatalf("columns are %s", head)
	}
	at := map[string]int{}
	for k, name := range seconds[0] {
		at[name] = k
	}
	value := func(row []string, name string) float64 {
		if row[at[name]] == "" {
			return 0
		}
		v, err := strconv.ParseFloat(row[at[name]], 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for number, res := range set.Rides {
		var joules, rows float64
		classes := map[string]int{}
		for _, row := range seconds[1:] {
			if row[at["ride"]] != strconv.Itoa(number+1) {
				continue
			}
			i := int(value(row, "t_s"))
			joules += value(row, "battery_w")
			classes[row[at["class"]]]++
			rows++
			if math.Abs(value(row, "speed_mps")-res.Road.Speed[i]) > 0.001 {
				t.Fatalf("second %d: speed %s", i, row[at["speed_mps"]])
			}
			if g := res.Gears.Index[i]; g >= 0 && value(row, "rear") != float64(res.Bike.Gears()[g].Rear) {
				t.Fatalf("second %d: rear %s", i, row[at["rear"]])
			}
		}
		if int(rows) != res.Ride.Len() {
			t.Errorf("ride %d has %v rows of %d s", number+1, rows, res.Ride.Len())
		}
		want := sumOf(res.Drive.Terminal, 0, res.Ride.Len())
		if math.Abs(joules-want) > 1e-4*want {
			t.Errorf("ride %d: %g J in the table, %g in the ride", number+1, joules, want)
		}
		for c := range drive.ClassCount {
			if classes[c.String()] != res.Classes[c].Seconds {
				t.Errorf("ride %d: %d s %s, want %d", number+1, classes[c.String()], c, res.Classes[c].Seconds)
			}
		}
	}
	segments := readCSV(t, filepath.Join(dir, "segments.csv"))
	covered, wh := 0, 0.0
	for _, row := range segments[1:] {
		n, err := strconv.Atoi(row[3])
		if err != nil {
			t.Fatal(err)
		}
		covered += n
		if row[18] != "" {
			e, err := strconv.ParseFloat(row[18], 64)
			if err != nil {
				t.Fatal(err)
			}
			wh += e
		}
	}
	total, want := 0, 0.0
	for _, res := range set.Rides {
		total += res.Ride.Len()
		want += sumOf(res.Drive.Terminal, 0, res.Ride.Len()) / 3600
	}
	if covered != total || math.Abs(wh-want) > 1e-3*want || segments[0][18] != "battery_wh" {
		t.Errorf("segments cover %d of %d s and %g of %g Wh", covered, total, wh, want)
	}
}

// A ride of ten hours stays under 4 MB with the chart library in it.
func TestTenHoursStayUnder4MB(t *testing.T) {
	library := strings.Repeat("x", 1_121_883) // the size of the library that fetch.sh brings
	var b bytes.Buffer
	if err := writePage(&b, sampleSet(1, 36000), Options{}, library); err != nil {
		t.Fatal(err)
	}
	if b.Len() > 4_000_000 {
		t.Errorf("the page has %d bytes", b.Len())
	}
}

func BenchmarkPageOfTenHours(b *testing.B) {
	set := sampleSet(1, 36000)
	for b.Loop() {
		if err := writePage(io.Discard, set, Options{}, "/* library */"); err != nil {
			b.Fatal(err)
		}
	}
}
