package bike

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// Essentials are the values of a profile that no default can stand for. Zero
// values leave the example's, to be mended by hand.
type Essentials struct {
	Name       string
	Tyre       string
	Chainrings []int
	Cogs       []int
	NominalV   float64
	CapacityWh float64
}

// Template is a commented profile with every key, the essentials written in and
// all else marked as a default until somebody changes it.
// The result is checked: an essential that cannot be is an *Error.
func Template(e Essentials) ([]byte, error) {
	p := Example()
	given := map[string]bool{"battery.nominal_v": e.NominalV != 0, "battery.capacity_wh": e.CapacityWh != 0}
	for _, n := range Numbers() {
		if !given[n.Key] && n.In(p) != 0 {
			p.SetOrigin(n.Key, Default)
		}
	}
	p.Name = "My bike"
	if e.Name != "" {
		p.Name = e.Name
	}
	if e.Tyre != "" {
		p.Wheel.Tyre = e.Tyre
	}
	if len(e.Chainrings) > 0 {
		p.Drivetrain.Chainrings = e.Chainrings
	}
	if len(e.Cogs) > 0 {
		p.Drivetrain.Cogs = e.Cogs
	}
	if e.NominalV != 0 {
		p.Battery.NominalV = e.NominalV
	}
	if e.CapacityWh != 0 {
		p.Battery.CapacityWh = e.CapacityWh
	}
	return p.YAML(nil)
}

// YAML writes the profile with every key explained, in the layout of
// ExampleYAML. notes adds a remark to a line, by dotted key. The result is
// checked as Parse does.
func (p *Profile) YAML(notes map[string]string) ([]byte, error) {
	values := p.lines()
	var out bytes.Buffer
	block := ""
	for _, line := range strings.Split(strings.TrimSuffix(string(exampleYAML), "\n"), "\n") {
		if block == "" && strings.HasPrefix(line, "# A bike profile") {
			line = "# A bike profile for cogledger."
		}
		key, rest, isKey := strings.Cut(line, ":")
		name := strings.TrimLeft(key, " ")
		if !isKey || strings.HasPrefix(name, "#") {
			out.WriteString(line + "\n")
			continue
		}
		path := name
		if len(name) < len(key) {
			path = block + "." + name
		} else {
			block = name
		}
		value, replaced := values[path]
		if !replaced {
			out.WriteString(line + "\n")
			continue
		}
		comment := ""
		if at := strings.Index(rest, "#"); at >= 0 {
			comment = strings.TrimSpace(rest[at+1:])
		}
		if path == "wheel.tyre" && p.Wheel.RolloutMM > 0 {
			comment = "mm that the loaded wheel rolls in one turn"
		}
		if note := notes[path]; note != "" {
			comment = strings.TrimPrefix(comment+"; "+note, "; ")
		}
		indent := key[:len(key)-len(name)]
		for i, text := range value {
			if i == 0 && comment != "" {
				text = fmt.Sprintf("%-*s # %s", 35-len(indent), text, comment)
			}
			out.WriteString(indent + text + "\n")
		}
	}
	p.writeOrigins(&out)
	if len(p.Tolerance) > 0 {
		out.WriteString("tolerance:\n")
		var keys []string
		for key := range p.Tolerance {
			keys = append(keys, key)
		}
		slices.Sort(keys)
		for _, key := range keys {
			fmt.Fprintf(&out, "  %s: %s\n", key, decimal(p.Tolerance[key]))
		}
	}
	if _, err := Parse(out.Bytes(), "new profile"); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// writeOrigins writes where numbers came from. What p.Defaulted holds was written
// out above with the rest, and stays a default by being listed.
func (p *Profile) writeOrigins(out *bytes.Buffer) {
	heading := "\n# Where values came from. Those in no list were typed in for this bike.\norigin:\n"
	for _, list := range []struct {
		origin  Origin
		keys    []string
		comment string
	}{
		{Default, p.Defaulted, "Nobody has looked at these on this bike, so they are taken as hardly known. Change a value above and\n  # it counts as yours; take its key away here if it is right as it stands."},
		{Learnt, p.Origins.Learnt, "Found in rides of this bike, each with its tolerance below."},
		{Measured, p.Origins.Measured, "Measured on this bike."},
	} {
		if len(list.keys) == 0 {
			continue
		}
		fmt.Fprintf(out, "%s  # %s\n  %s:\n", heading, list.comment, list.origin)
		heading = ""
		for _, key := range list.keys {
			fmt.Fprintf(out, "    - %s\n", key)
		}
	}
}

// lines gives the YAML lines of each key that the example's layout holds.
func (p *Profile) lines() map[string][]string {
	lines := map[string][]string{
		"name":                     {"name: " + strconv.Quote(p.Name)},
		"wheel.tyre":               {"tyre: " + strconv.Quote(p.Wheel.Tyre)},
		"drivetrain.chainrings":    {"chainrings: " + list(p.Drivetrain.Chainrings)},
		"drivetrain.cogs":          {"cogs: " + list(p.Drivetrain.Cogs)},
		"drive.kind":               {"kind: " + string(p.Drive.Kind)},
		"thermal.insulation_class": {"insulation_class: " + p.Thermal.InsulationClass},
		"legs.band_rpm":            {fmt.Sprintf("band_rpm: [%s, %s]", decimal(p.Legs.BandRPM[0]), decimal(p.Legs.BandRPM[1]))},
		"shifting.least_dwell_s":   {"least_dwell_s: " + strconv.Itoa(p.Shifting.LeastDwellS)},
	}
	for _, n := range Numbers() {
		name := n.Key[strings.LastIndex(n.Key, ".")+1:]
		lines[n.Key] = []string{name + ": " + decimal(n.In(p))}
	}
	if p.Wheel.RolloutMM > 0 {
		lines["wheel.tyre"] = []string{"rollout_mm: " + decimal(p.Wheel.RolloutMM)}
	}
	if p.Drive.Kind == Hub {
		lines["drive.turns_per_crank"] = []string{"turns_per_wheel: " + decimal(p.Drive.TurnsPerWheel)}
	}
	if len(p.Drivetrain.HubGears) > 0 {
		words := make([]string, len(p.Drivetrain.HubGears))
		for i, h := range p.Drivetrain.HubGears {
			words[i] = decimal(h)
		}
		lines["drivetrain.cogs"] = append(lines["drivetrain.cogs"], "hub_gears: ["+strings.Join(words, ", ")+"]")
	}
	if p.Thermal.WindingLimitC > 0 {
		lines["thermal.insulation_class"] = append(lines["thermal.insulation_class"], "winding_limit_c: "+decimal(p.Thermal.WindingLimitC))
	}
	if p.Shifting.Mechanism != "" {
		lines["shifting.light_nm"] = append(lines["shifting.light_nm"], "mechanism: "+string(p.Shifting.Mechanism))
	}
	return lines
}

// decimal writes a number to four digits, which is more than any is known to.
func decimal(v float64) string {
	short, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 4, 64), 64)
	return strconv.FormatFloat(short, 'f', -1, 64)
}

func list(teeth []int) string {
	words := make([]string, len(teeth))
	for i, n := range teeth {
		words[i] = strconv.Itoa(n)
	}
	return "[" + strings.Join(words, ", ") + "]"
}
