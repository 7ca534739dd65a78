package bike

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"
)

// Check lists what makes the profile unusable, each with its cure. Lines are
// not known here; Parse fills them in.
func (p *Profile) Check() []Problem {
	var found []Problem
	add := func(key, cure, text string, args ...any) {
		found = append(found, Problem{Key: key, Text: fmt.Sprintf(text, args...), Cure: cure})
	}
	if strings.TrimSpace(p.Name) == "" {
		add("name", "write name: My bike", "missing")
	}
	if n := utf8.RuneCountInString(p.Name); n > 200 {
		add("name", "shorten it to 200", "%d characters are too many", n)
	}
	p.checkWheel(add)
	p.checkDrivetrain(add)
	p.checkDrive(add)
	if _, known := insulationLimit(p.Thermal.InsulationClass); !known {
		add("thermal.insulation_class", "write B, F or H, or set winding_limit_c", "%q is not a class this program knows", p.Thermal.InsulationClass)
	}
	if b := p.Legs.BandRPM; !(b[0] >= 30 && b[0] < b[1] && b[1] <= 160) {
		add("legs.band_rpm", "write two numbers, slow then fast, like [70, 95]", "%v is not a band of cadence within 30 to 160 rpm", b)
	}
	if d := p.Shifting.LeastDwellS; d < 1 || d > 120 {
		add("shifting.least_dwell_s", "write whole seconds from 1 to 120", "%d is out of range", d)
	}
	switch p.Shifting.Mechanism {
	case "", Derailleur, GearHub, Gearbox:
	default:
		add("shifting.mechanism", "write derailleur, hub or gearbox, or leave it out", "%q is no mechanism this program knows", string(p.Shifting.Mechanism))
	}
	for _, n := range Numbers() {
		if v := n.In(p); math.IsNaN(v) || v < n.Least || v > n.Most {
			add(n.Key, fmt.Sprintf("write a value from %g to %g", n.Least, n.Most)+unitWords(n.Unit), "%g is out of range", v)
		}
	}
	known := keysOf(Numbers())
	for key, fraction := range p.Tolerance {
		if !slices.Contains(known, key) {
			add("tolerance", "use a dotted key such as motor.resistance_ohm", "no number of the profile is called %q", key)
		} else if !(fraction >= 0 && fraction <= 2) {
			add("tolerance", "write a fraction, 0.1 for ten per cent", "%s: %g is out of range", key, fraction)
		}
	}
	p.checkOrigins(known, add)
	return found
}

func (p *Profile) checkOrigins(known []string, add adder) {
	seen := map[string]string{}
	for _, list := range []struct {
		name string
		keys []string
	}{{"default", p.Origins.Default}, {"learnt", p.Origins.Learnt}, {"measured", p.Origins.Measured}} {
		for _, key := range list.keys {
			if _, is := slices.BinarySearch(known, key); !is {
				add("origin."+list.name, "use a dotted key such as motor.resistance_ohm", "no number of the profile is called %q", key)
			} else if before := seen[key]; before != "" {
				add("origin."+list.name, "list each once", "%s is listed already, as %s", key, before)
			}
			seen[key] = list.name
		}
	}
}

type adder func(key, cure, text string, args ...any)

func (p *Profile) checkWheel(add adder) {
	switch mm := p.Wheel.RolloutMM; {
	case mm != 0 && !(mm >= 800 && mm <= 3000):
		add("wheel.rollout_mm", "roll the wheel one turn and measure, in millimetres", "%g is outside 800 to 3000", mm)
	case mm == 0 && p.Wheel.Tyre == "":
		add("wheel", "write tyre: 47-622 (the size on the tyre) or rollout_mm: 2268", "missing")
	case mm == 0:
		if _, err := TyreCircumference(p.Wheel.Tyre); err != nil {
			add("wheel.tyre", "", "%v", err)
		}
	}
}

func (p *Profile) checkDrivetrain(add adder) {
	d := p.Drivetrain
	teeth := func(key string, list []int, least, most int) {
		if len(list) == 0 {
			add(key, "list the teeth, like [11, 13, 15]", "missing")
		}
		for i, n := range list[:min(len(list), 20)] { // more are refused below
			if n < least || n > most {
				add(fmt.Sprintf("%s[%d]", key, i), "count the teeth again", "%d teeth are outside %d to %d", n, least, most)
			}
			if slices.Contains(list[:i], n) {
				add(fmt.Sprintf("%s[%d]", key, i), "list each once", "%d teeth are listed twice", n)
			}
		}
	}
	teeth("drivetrain.chainrings", d.Chainrings, 10, 80)
	teeth("drivetrain.cogs", d.Cogs, 7, 70)
	if len(d.Chainrings) > 3 {
		add("drivetrain.chainrings", "list the rings on the crank only", "%d rings are more than any crank carries", len(d.Chainrings))
	}
	if len(d.Cogs) > 16 {
		add("drivetrain.cogs", "list the cogs on the wheel only", "%d cogs are more than any wheel carries", len(d.Cogs))
	}
	if len(d.HubGears) == 0 {
		return
	}
	if len(d.Chainrings) != 1 || len(d.Cogs) != 1 {
		add("drivetrain.hub_gears", "give one ring and one cog", "a gear hub is read with one ring and one cog only")
	}
	if len(d.HubGears) > 20 {
		add("drivetrain.hub_gears", "list the gears of the hub only", "%d gears are more than any hub has", len(d.HubGears))
	}
	for i, h := range d.HubGears[:min(len(d.HubGears), 20)] {
		if !(h >= 0.2 && h <= 5) || i > 0 && h <= d.HubGears[i-1] {
			add(fmt.Sprintf("drivetrain.hub_gears[%d]", i), "list the ratios of hub shell to sprocket from the lowest up", "%g is out of order or outside 0.2 to 5", h)
		}
	}
}

func (p *Profile) checkDrive(add adder) {
	switch p.Drive.Kind {
	case Mid:
		if p.Drive.TurnsPerCrank <= 0 {
			add("drive.turns_per_crank", "the maker's reduction, or motor rpm divided by crank rpm", "missing or not positive")
		}
	case Hub:
		if p.Drive.TurnsPerWheel <= 0 {
			add("drive.turns_per_wheel", "the maker's reduction; 1 for a motor without gears", "missing or not positive")
		}
	default:
		add("drive.kind", "write mid or hub", "%q is neither mid nor hub", string(p.Drive.Kind))
	}
}

func unitWords(unit string) string {
	if unit == "" {
		return ""
	}
	return " " + unit
}
