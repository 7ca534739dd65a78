package bike

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// Circumferences as published for setting up wheel sensors; two figures are two
// published tables.
func TestTyreCircumferenceAgainstPublishedTables(t *testing.T) {
	for size, published := range map[string][]float64{
		"25-622": {2105, 2146}, "28-622": {2136, 2149}, "32-622": {2155, 2174}, "37-622": {2205}, "40-622": {2224},
		"47-622": {2268}, "50-622": {2284}, "60-622": {2340}, "47-559": {2055, 2070}, "50-559": {2089}, "54-559": {2114},
		"57-559": {2133}, "37-590": {2105}, "47-406": {1590}, "50-406": {1593}, "50-507": {1910},
	} {
		got, err := TyreCircumference(size)
		if err != nil {
			t.Fatal(err)
		}
		for _, mm := range published {
			if off := math.Abs(got*1000-mm) / mm; off > 0.02 {
				t.Errorf("%s: %.0f mm, published %.0f: %.1f %% apart, tables themselves differ by 2 %%", size, got*1000, mm, 100*off)
			}
		}
		// The closed form serves sizes that no table has, so it must hold where one does.
		width, bead, _ := parseTyre(size)
		if off := math.Abs(math.Pi*(bead+2*width)-published[0]) / published[0]; off > 0.017 {
			t.Errorf("%s: pi (bead seat + 2 width) is %.2f %% off the table", size, 100*off)
		}
	}
}

func TestTyreSizesRefused(t *testing.T) {
	for _, size := range []string{"", "47", "28 inch", "47-600", "2-622", "NaN-622", "47-622-3"} {
		if c, err := TyreCircumference(size); err == nil {
			t.Errorf("%q gave %v", size, c)
		}
	}
}

func TestExampleIsWholeAndItsDefaultsAreTheProgramsOwn(t *testing.T) {
	p := Example()
	if len(p.Defaulted) != 0 && fmt.Sprint(p.Defaulted) != "[]" {
		t.Errorf("the example leaves out %v", p.Defaulted)
	}
	short, err := Parse([]byte("name: short\nwheel: {tyre: 47-622}\ndrivetrain: {chainrings: [38], cogs: [11, 13, 15, 18, 21, 24, 28, 32, 36, 42]}\n"+
		"drive: {kind: mid, turns_per_crank: 36}\nbattery: {nominal_v: 48, capacity_wh: 500, resistance_ohm: 0.11}\n"), "short.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range Numbers() {
		if n.In(p) != n.In(short) {
			t.Errorf("%s: %g in the example, %g by default", n.Key, n.In(p), n.In(short))
		}
	}
	if len(short.Defaulted) < 20 {
		t.Errorf("only %v are called defaults", short.Defaulted)
	}
}

func TestBlockGivenInPartKeepsTheOtherDefaults(t *testing.T) {
	p, err := Parse([]byte("name: short\nwheel: {tyre: 47-622}\ndrivetrain: {chainrings: [38], cogs: [11, 42]}\ndrive: {kind: mid, turns_per_crank: 36}\n"+
		"battery: {nominal_v: 48, capacity_wh: 500, resistance_ohm: 0.11}\nmotor: {resistance_ohm: 0.2}\n"), "part.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if p.Motor.ResistanceOhm != 0.2 || p.Motor.TorqueConstant != Example().Motor.TorqueConstant {
		t.Errorf("%+v", p.Motor)
	}
}

func TestGearsRunFromEasyToTall(t *testing.T) {
	p := &Profile{Drivetrain: Drivetrain{Chainrings: []int{50, 34}, Cogs: []int{11, 28, 15}}}
	if got := fmt.Sprint(p.Gears()); got != "[34/28 34/15 34/11 50/28 50/15 50/11]" {
		t.Error(got)
	}
	hub := &Profile{Drivetrain: Drivetrain{Chainrings: []int{42}, Cogs: []int{21}, HubGears: []float64{0.5, 1, 2}}}
	if got := fmt.Sprint(hub.Gears()); got != "[42/21 step 1 42/21 step 2 42/21 step 3]" || hub.Gears()[2].Ratio != 4 {
		t.Error(got)
	}
}

func TestProblemsNameLineKeyAndCure(t *testing.T) {
	good := string(ExampleYAML())
	for name, c := range map[string]struct{ old, new, want string }{
		"misspelt key":      {"chainrings:", "chainring:", "x.yaml:16: chainring: no such key; did you mean chainrings?"},
		"tooth count":       {"[11, 13", "[0, 13", "x.yaml:17: drivetrain.cogs[0]: 0 teeth are outside 7 to 70; count the teeth again"},
		"twice":             {"[11, 13", "[13, 13", "13 teeth are listed twice"},
		"word for number":   {"nominal_v: 48", "nominal_v: forty", "x.yaml:28: not a number, or not the kind of value that belongs here"},
		"negative":          {"bike_kg: 25", "bike_kg: -25", "mass.bike_kg: -25 is out of range; write a value from 5 to 400 kg"},
		"not a number":      {"bike_kg: 25", "bike_kg: .nan", "mass.bike_kg: NaN is out of range"},
		"kind":              {"kind: mid", "kind: rear", `drive.kind: "rear" is neither mid nor hub`},
		"tyre":              {"47-622", "28x1.75", "wheel.tyre"},
		"tolerance of what": {"# tolerance: {motor.resistance_ohm", "tolerance: {motor.resistence_ohm", `no number of the profile is called "motor.resistence_ohm"`},
		"alias":             {"name: Harbour courier", "name: &a Harbour", "anchors and aliases"},
		"broken YAML":       {"wheel:", "wheel: [", "x.yaml"},
	} {
		t.Run(name, func(t *testing.T) {
			text := strings.Replace(good, c.old, c.new, 1)
			if text == good {
				t.Fatal("nothing was replaced")
			}
			_, err := Parse([]byte(text), "x.yaml")
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v\nwant ... %s", err, c.want)
			}
		})
	}
}

func TestScaledLeavesTheOriginal(t *testing.T) {
	p := Example()
	for _, tol := range p.Tolerances() {
		up := p.Scaled(tol.Key, 1+tol.Fraction)
		want := tol.Value * (1 + tol.Fraction)
		if tol.Key == "reduction_efficiency" {
			want = min(want, 1)
		}
		if got := tol.In(up); math.Abs(got-want) > 1e-12*want {
			t.Errorf("%s: %g, want %g", tol.Key, got, want)
		}
		if tol.In(p) != tol.Value {
			t.Errorf("%s: the original moved", tol.Key)
		}
	}
}

// IEC 60085 thermal classes.
func TestInsulationClasses(t *testing.T) {
	for class, want := range map[string]float64{"B": 130, "F": 155, "H": 180} {
		if got := (Thermal{InsulationClass: class}).WindingLimit(); got != want {
			t.Errorf("class %s: %g °C, want %g", class, got, want)
		}
	}
	if got := (Thermal{InsulationClass: "F", WindingLimitC: 140}).WindingLimit(); got != 140 {
		t.Errorf("the profile's own limit gives way: %g", got)
	}
}

// Typing errors that the YAML library panics on, or reads in silence.
func TestWrongShapes(t *testing.T) {
	for _, c := range []struct{ text, says string }{
		{"legs: {band_rpm: [70, 80, 95]}", "bike.yaml:1: legs.band_rpm: it takes two numbers"},
		{"legs: {band_rpm: [70]}", "it takes two numbers"},
		{"legs: {band_rpm: 70}", "it takes two numbers"},
		{"legs:\n  band_rpm: !!seq [70, 95]", "bike.yaml:2"},
		{"drivetrain:\n  chainrings: !!int 5", "bike.yaml:2: a tag (!!int)"},
		{"name: !!str Blue", "a tag (!!str)"},
		{"wheel: !x {tyre: 47-622}", "a tag (!x)"},
	} {
		p, err := Parse([]byte(c.text), "bike.yaml")
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, %v", c.text, p, err)
		}
	}
}

// A name's length counts in characters, not in bytes.
func TestLongName(t *testing.T) {
	p := Example()
	p.Name = strings.Repeat("ä", 200)
	if found := p.Check(); len(found) > 0 {
		t.Errorf("200 characters: %v", found)
	}
	p.Name += "ä"
	if found := p.Check(); len(found) != 1 || !strings.Contains(found[0].Text, "201 characters") {
		t.Errorf("201 characters: %v", found)
	}
}

func FuzzParse(f *testing.F) {
	for _, line := range []string{
		"legs: {band_rpm: [70, 80, 95]}", "drivetrain: {chainrings: !!int 5}", "name: !!binary x", "legs: {band_rpm: {a: 1}}",
		"tolerance: [1, 2]", "drivetrain: {hub_gears: {a: [1]}}", "wheel: [47-622]", "battery: !!map", "assist: ~", "? [a]\n: b", "drivetrain: {cogs: [!!float 11]}",
	} {
		f.Add([]byte(line))
		f.Add(append(ExampleYAML(), "\n"+line...))
	}
	f.Add(ExampleYAML())
	f.Add([]byte("name: a\nname: b"))
	f.Add([]byte("? [a]\n: {b: }"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Parse(data, "fuzz.yaml")
		if err != nil {
			return
		}
		if len(p.Gears()) == 0 || !(p.Circumference() > 0.5) {
			t.Errorf("accepted without gears or wheel: %+v", p)
		}
	})
}

func TestTemplateTakesTheEssentials(t *testing.T) {
	text, err := Template(Essentials{Name: `Anna's "old" one: #2`, Tyre: "50-559", Chainrings: []int{48, 36}, Cogs: []int{11, 34}, NominalV: 36, CapacityWh: 400})
	if err != nil {
		t.Fatal(err)
	}
	p, err := Parse(text, "t.yaml")
	if err != nil {
		t.Fatal(err)
	}
	if p.Name != `Anna's "old" one: #2` || p.Wheel.Tyre != "50-559" || fmt.Sprint(p.Gears()) != "[36/34 36/11 48/34 48/11]" || p.Battery.NominalV != 36 || p.Battery.CapacityWh != 400 {
		t.Errorf("%+v", p)
	}
	if _, err := Template(Essentials{Cogs: []int{0}}); err == nil {
		t.Error("a cog of 0 teeth was written")
	}
	if text, _ := Template(Essentials{}); strings.Contains(string(text), "Harbour") || !strings.Contains(string(text), `name: "My bike"`) {
		t.Errorf("the example's own name stays:\n%.200s", text)
	}
}

func TestYAMLGivesTheProfileBack(t *testing.T) {
	hub, err := Parse([]byte("name: hub\nwheel: {rollout_mm: 2190}\ndrivetrain: {chainrings: [42], cogs: [21], hub_gears: [0.5, 1, 2]}\n"+
		"drive: {kind: hub, turns_per_wheel: 5}\nbattery: {nominal_v: 36, capacity_wh: 400, resistance_ohm: 0.2}\nthermal: {winding_limit_c: 120}\ntolerance: {road.crr: 0.1}\n"), "hub.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []*Profile{Example(), hub} {
		text, err := p.YAML(map[string]string{"road.crr": "learnt from 3 rides"})
		if err != nil {
			t.Fatal(err)
		}
		again, err := Parse(text, "again.yaml")
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(again.Defaulted, p.Defaulted) {
			t.Errorf("defaults %v became %v", p.Defaulted, again.Defaulted)
		}
		again.Defaulted, p.Defaulted, again.Origins.Default = nil, nil, nil
		if len(again.Tolerance) == 0 && len(p.Tolerance) == 0 {
			again.Tolerance, p.Tolerance = nil, nil
		}
		if p.Wheel.RolloutMM > 0 {
			again.Wheel.Tyre = p.Wheel.Tyre
		}
		if fmt.Sprintf("%+v", *again) != fmt.Sprintf("%+v", *p) {
			t.Errorf("%+v\nbecame\n%+v", *p, *again)
		}
		if !strings.Contains(string(text), "learnt from 3 rides") {
			t.Error("the note is lost")
		}
	}
}

// A value stays a default until somebody changes it, says so, or learns it; and a
// default is known far worse.
func TestDefaultsStayDefaultsUntilChanged(t *testing.T) {
	text, err := Template(Essentials{CapacityWh: 400})
	if err != nil {
		t.Fatal(err)
	}
	const key = "motor.resistance_ohm"
	typed, guess := 0.15, 0.7
	learnt := func(s string) string {
		s = strings.Replace(s, "    - "+key+"\n", "", 1)
		return strings.Replace(s, "origin:\n", "origin:\n  learnt: ["+key+"]\n", 1) + "\ntolerance: {" + key + ": 0.04}\n"
	}
	for _, c := range []struct {
		name   string
		change func(string) string
		origin Origin
		within float64
	}{
		{"untouched", func(s string) string { return s }, Default, guess},
		{"changed", func(s string) string { return strings.Replace(s, "resistance_ohm: 0.12 ", "resistance_ohm: 0.13 ", 1) }, Typed, typed},
		{"taken off the list", func(s string) string { return strings.Replace(s, "    - "+key+"\n", "", 1) }, Typed, typed},
		{"line deleted", func(s string) string {
			return regexp.MustCompile(`(?m)^  resistance_ohm: 0\.12 .*\n`).ReplaceAllString(s, "")
		}, Default, guess},
		{"learnt", learnt, Learnt, 0.04},
		{"measured", func(s string) string {
			s = strings.Replace(s, "    - "+key+"\n", "", 1)
			return strings.Replace(s, "origin:\n", "origin:\n  measured: ["+key+"]\n", 1)
		}, Measured, typed / 2},
	} {
		changed := c.change(string(text))
		p, err := Parse([]byte(changed), c.name)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if c.name != "untouched" && changed == string(text) {
			t.Errorf("%s: nothing changed", c.name)
		}
		within := 0.0
		for _, tol := range p.Tolerances() {
			if tol.Key == key {
				within = tol.Fraction
			}
		}
		if got := p.OriginOf(key); got != c.origin || within != c.within {
			t.Errorf("%s: %s within %g, want %s within %g", c.name, got, within, c.origin, c.within)
		}
		if got := p.OriginOf("battery.capacity_wh"); got != Typed {
			t.Errorf("%s: the capacity that was given is %s", c.name, got)
		}
	}
	for list, want := range map[string]string{"{default: [motor.colour]}": "no number", "{default: [road.crr], learnt: [road.crr]}": "listed already, as default"} {
		bad := regexp.MustCompile(`(?s)\norigin:.*`).ReplaceAllString(string(text), "\norigin: "+list+"\n")
		if _, err := Parse([]byte(bad), "bad.yaml"); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", list, err)
		}
	}
}
