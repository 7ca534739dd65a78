package fleetrun

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"cogledger/analysis/bike"
)

// bikesWith makes a folder of profiles, and a map where one is given.
func bikesWith(t *testing.T, table string, profiles ...string) (*Bikes, error) {
	t.Helper()
	folder := t.TempDir()
	for _, p := range profiles {
		write(t, filepath.Join(folder, p+".yaml"), bike.ExampleYAML())
	}
	if table != "" {
		write(t, filepath.Join(folder, MapFile), []byte(table))
	}
	return ReadBikes(folder, "")
}

func TestWhoseALogIs(t *testing.T) {
	may := time.Date(2026, 5, 10, 8, 0, 0, 0, time.UTC)
	table := strings.Join([]string{
		"bike,profile,rider,group,file,folder,serial,from,to",
		"B1,cargo,,north,,,4711,,",
		"B1,cargo,Ada,north,,,4711,2026-05-01,2026-06-01",
		"B2,cargo,Bo,south,,pool/B2,,,",
		"B3,cargo,Cy,south,,pool,,,",
		"B4,,Di,,7/ride 9.fit,,,,",
		"B5,,Ed,,night*.fit,,,,",
		"B6,,,east,,,,,",
	}, "\n")
	b, err := bikesWith(t, table, "cargo", "city", DefaultProfile)
	if err != nil {
		t.Fatal(err)
	}
	tests := []struct {
		name, path, serial, bike, rider, group string
		start                                  time.Time
	}{
		{"by serial", "/x/y/a.fit", "4711", "B1", "", "north", time.Time{}},
		{"an entry with dates is closer, within them", "/x/y/a.fit", "4711", "B1", "Ada", "north", may},
		{"the day after the last", "/x/y/a.fit", "4711", "B1", "", "north", time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)},
		{"by folder, the longest", "/srv/pool/B2/a.fit", "", "B2", "Bo", "south", may},
		{"by folder, the shorter", "/srv/pool/B9/a.fit", "", "B3", "Cy", "south", may},
		{"a folder is whole elements", "/srv/whirlpool/xB2/a.fit", "", "xB2", "", "", may},
		{"folder before serial", "/srv/pool/a.fit", "4711", "B3", "Cy", "south", may},
		{"by file", "/srv/pool/B2/7/ride 9.fit", "", "B4", "Di", "", may},
		{"by a pattern", "/srv/pool/night ride.fit", "", "B5", "Ed", "", may},
		{"a pattern is of the name alone", "/srv/night.fit/day.fit", "", "night.fit", "", "", may},
		{"a bike of the map by its folder", "/srv/B6/2026/a.fit", "", "B6", "", "east", may},
		{"a zip counts as a folder", "/srv/B6.zip/a.fit", "", "B6", "", "east", may},
		{"by a folder called like a profile", "/srv/city/2026/a.fit", "", "city", "", "", may},
		{"the default takes its folder's name", "/srv/B77/a.fit", "99", "B77", "", "", may},
		{"dates are no bikes", "/srv/B77/2026/2026-05/10/a.fit", "99", "B77", "", "", may},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			o, owned := b.Of(test.path, test.serial, test.start)
			if !owned || o.Bike != test.bike || o.Rider != test.rider || o.Group != test.group || o.Profile == nil || len(o.Assignment.Profile) != 16 {
				t.Errorf("owned %v: %+v, want bike %q, rider %q, group %q", owned, o.Assignment, test.bike, test.rider, test.group)
			}
		})
	}
}

func TestNobodysLog(t *testing.T) {
	b, err := bikesWith(t, "", "cargo")
	if err != nil {
		t.Fatal(err)
	}
	if o, owned := b.Of("/srv/other/a.fit", "4711", time.Time{}); owned {
		t.Errorf("a log of nobody's belongs to %+v", o.Assignment)
	}
	if o, owned := b.Of("/srv/cargo/a.fit", "", time.Time{}); !owned || o.Bike != "cargo" {
		t.Errorf("owned %v: %+v", owned, o.Assignment)
	}
}

func TestMapIsRefused(t *testing.T) {
	tests := []struct{ name, table, want string }{
		{"no bike column", "folder,rider\nx,y", "column bike is missing"},
		{"unknown column", "bike,colour\nB1,red", `no column is called "colour"`},
		{"unknown profile", "bike,profile\nB1,tandem", "there is no profile tandem.yaml"},
		{"no profile at all", "bike\nB1", "neither B1.yaml nor default.yaml"},
		{"no bike", "bike,profile\n,cargo", "fleet.csv:2: no bike is named"},
		{"a date", "bike,profile,from\nB1,cargo,10.5.2026", `"10.5.2026" is no date`},
		{"a pattern", "bike,profile,file\nB1,cargo,[", "syntax error in pattern"},
		{"a short line", "bike,profile\nB1", "line 2"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, err := bikesWith(t, test.table, "cargo")
			if err == nil || !strings.Contains(err.Error(), test.want) || !strings.Contains(err.Error(), MapFile) {
				t.Errorf("error %v, want %q and the file", err, test.want)
			}
		})
	}
}

func TestMapOfASpreadsheet(t *testing.T) {
	b, err := bikesWith(t, "\ufeffBike; Profile ;Folder\r\nB1;cargo;pool\r\n", "cargo")
	if err != nil {
		t.Fatal(err)
	}
	if o, owned := b.Of("/pool/a.fit", "", time.Time{}); !owned || o.Bike != "B1" {
		t.Errorf("owned %v: %+v", owned, o.Assignment)
	}
}

// The hash counts values only: comments and the name may change without a
// review of every ride.
func TestProfileHashCountsValues(t *testing.T) {
	of := func(change func(string) string) string {
		t.Helper()
		folder := t.TempDir()
		write(t, filepath.Join(folder, "a.yaml"), []byte(change(string(bike.ExampleYAML()))))
		b, err := ReadBikes(folder, "")
		if err != nil {
			t.Fatal(err)
		}
		return b.profiles["a"].Hash
	}
	same := of(func(s string) string { return s })
	if got := of(func(s string) string { return "# another comment\n" + s }); got != same {
		t.Error("a comment changes the hash")
	}
	if got := of(func(s string) string { return strings.Replace(s, "name: ", "name: another ", 1) }); got != same {
		t.Error("the name changes the hash")
	}
	if got := of(func(s string) string { return strings.Replace(s, "resistance_ohm: 0.11", "resistance_ohm: 0.12", 1) }); got == same {
		t.Error("the resistance does not change the hash")
	}
}

func TestProfilesAreRefused(t *testing.T) {
	folder := t.TempDir()
	if _, err := ReadBikes(folder, ""); err == nil || !strings.Contains(err.Error(), "default.yaml") {
		t.Errorf("an empty folder: %v", err)
	}
	write(t, filepath.Join(folder, "broken.yaml"), []byte("name: x\nwheels: 3\n"))
	write(t, filepath.Join(folder, "worse.yaml"), []byte("name: 7\n"))
	_, err := ReadBikes(folder, "")
	for _, want := range []string{"broken.yaml:2", "worse.yaml"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v does not name %s", err, want)
		}
	}
}

func write(t testing.TB, path string, data []byte) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, data, 0o666); err != nil {
		t.Fatal(err)
	}
}
