package csvlog

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"cogledger/ingest/quantity"
	"cogledger/ingest/ride"

	"cogledger/ingest/shortyaml"

	"github.com/goccy/go-yaml"
)

// Columns tell how to read a table whose column names are not the package's
// own. As YAML:
//
//	columns:
//	  Batt mV:   {is: battery_voltage, unit: mV}
//	  I_bat:     {is: battery_current, unit: A, scale: -1}   # charging counted positive
//	  Zeit:      {is: time, form: "DD.MM.YYYY hh:mm:ss", zone: "+02:00"}
//	  ms:        {is: elapsed, unit: ms}
//	  Throttle:  {is: ignored}
//
// "is" is time, elapsed, ignored or a channel's key. A number in the table is
// multiplied by scale (default 1), offset (default 0) is added, and the result
// is read in the unit, by default the channel's own.
type Columns struct {
	byName map[string]column
}

// MaxMapBytes is the largest column map that ParseColumns accepts.
const MaxMapBytes = shortyaml.MostBytes

// ParseColumns reads a column map. file is the base name that errors carry.
func ParseColumns(data []byte, file string) (*Columns, error) {
	_, err := shortyaml.Parse(data)
	if refused := (*shortyaml.Refusal)(nil); errors.As(err, &refused) {
		return nil, fmt.Errorf("%s: %w", file, refused)
	} else if err != nil {
		return nil, fmt.Errorf("%s: %s", file, yaml.FormatError(err, false, true))
	}
	var written struct {
		Columns map[string]struct {
			Is     string   `yaml:"is"`
			Unit   string   `yaml:"unit"`
			Scale  *float64 `yaml:"scale"`
			Offset float64  `yaml:"offset"`
			Form   string   `yaml:"form"`
			Zone   string   `yaml:"zone"`
		} `yaml:"columns"`
	}
	if err := yaml.UnmarshalWithOptions(data, &written, yaml.Strict()); err != nil {
		return nil, fmt.Errorf("%s: %s", file, yaml.FormatError(err, false, true))
	}
	if len(written.Columns) == 0 {
		return nil, fmt.Errorf("%s: the map names no columns; write them under the key columns", file)
	}
	columns := &Columns{byName: map[string]column{}}
	for name, w := range written.Columns {
		c := column{name: name, scale: 1, offset: w.Offset}
		if w.Scale != nil {
			c.scale = *w.Scale
		}
		if err := c.mean(w.Is, w.Unit, w.Form, w.Zone); err != nil {
			return nil, fmt.Errorf("%s: column %q: %w", file, name, err)
		}
		columns.byName[name] = c
	}
	return columns, nil
}

// mean sets what the column holds.
func (c *column) mean(is, unit, form, zone string) error {
	switch is {
	case "ignored":
		c.role = ignored
		return nil
	case "time":
		c.role = absoluteTime
		return c.readTime(unit, form, zone)
	case "elapsed":
		c.role = elapsedTime
		factor, ok := map[string]float64{"": 1, "s": 1, "ms": 1e-3, "us": 1e-6, "min": 60}[unit]
		if !ok {
			return fmt.Errorf("%w: %q is no unit of elapsed time; accepted are s, ms, us, min", ErrColumn, unit)
		}
		c.scale, c.offset = c.scale*factor, c.offset*factor
		return nil
	}
	for channel := range ride.ChannelCount {
		if channel.String() != is {
			continue
		}
		if unit == "" {
			unit = channel.Unit()
		}
		u, ok := quantity.Parse(unit)
		if !ok || u.Kind != quantity.Of(channel) {
			return fmt.Errorf("%w: %q is no unit of %s; accepted are %s", ErrColumn, unit, channel, strings.Join(quantity.Names(quantity.Of(channel)), ", "))
		}
		c.role, c.channel, c.unit, c.origin = value, channel, u, ride.Device
		return nil
	}
	var keys []string
	for channel := range ride.ChannelCount {
		keys = append(keys, channel.String())
	}
	return fmt.Errorf("%w: is: %q is neither time, elapsed, ignored nor a channel; the channels are %s", ErrColumn, is, strings.Join(keys, ", "))
}

// readTime sets how a column of absolute time is written.
func (c *column) readTime(unit, form, zone string) error {
	switch unit {
	case "":
	case "unix_s":
		c.unix = 1
	case "unix_ms":
		c.unix = 1e-3
	default:
		return fmt.Errorf("%w: %q is no unit of time; accepted are unix_s and unix_ms, or none for a written date", ErrColumn, unit)
	}
	if form != "" {
		c.layout = strings.NewReplacer("YYYY", "2006", "YY", "06", "MM", "01", "DD", "02", "hh", "15", "mm", "04", "ss", "05", "zzzzzz", "-07:00").Replace(form)
		if !strings.Contains(c.layout, "15") {
			return fmt.Errorf("%w: form: %q has no hour; write it with YYYY, MM, DD, hh, mm, ss and, for a zone, zzzzzz", ErrColumn, form)
		}
	}
	if zone == "" {
		return nil
	}
	if at, err := time.Parse("-07:00", zone); err == nil {
		_, seconds := at.Zone()
		c.zone = time.FixedZone(zone, seconds)
		return nil
	}
	location, err := time.LoadLocation(zone)
	if err != nil {
		return fmt.Errorf("%w: zone: %q is not known; write it as +02:00", ErrColumn, zone)
	}
	c.zone = location
	return nil
}

// column is what the map says of a name.
func (m *Columns) column(name string) (column, bool, error) {
	if m == nil {
		return column{}, false, nil
	}
	c, ok := m.byName[name]
	return c, ok, nil
}

// missing lists the names of the map that a table lacks.
func (m *Columns) missing(names []string) (missing []string) {
	if m == nil {
		return nil
	}
	for name := range m.byName {
		if !slices.Contains(names, name) {
			missing = append(missing, fmt.Sprintf("%q", short(name)))
		}
	}
	slices.Sort(missing)
	return missing
}
