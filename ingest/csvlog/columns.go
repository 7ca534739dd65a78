package csvlog

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"cogledger/ingest/quantity"
	"cogledger/ingest/ride"
)

// A role is what a column is for.
type role uint8

const (
	ignored role = iota
	absoluteTime
	elapsedTime
	value
)

// A column is one understood column of a table.
type column struct {
	name          string
	role          role
	channel       ride.Channel
	origin        ride.Origin
	unit          quantity.Unit
	scale, offset float64 // applied to the number before its unit
	layout        string  // of absolute time; empty: any that parseTime knows
	unix          float64 // of absolute time counted since 1970: seconds a count
	zone          *time.Location
}

// The own column names, without their unit.
var ownNames = []struct {
	name    string
	channel ride.Channel
	origin  ride.Origin
}{
	{"speed", ride.Speed, ride.Device},
	{"wheel_speed", ride.Speed, ride.WheelSensor},
	{"gps_speed", ride.Speed, ride.Satellite},
	{"distance", ride.Distance, ride.Device},
	{"cadence", ride.CadenceRPM, ride.Device},
	{"rider_power", ride.RiderPower, ride.Device},
	{"motor_power", ride.MotorPower, ride.Device},
	{"battery_voltage", ride.BatteryVolts, ride.Device},
	{"battery_current", ride.BatteryAmps, ride.Device},
	{"battery_charge", ride.BatteryCharge, ride.Device},
	{"motor", ride.MotorRPM, ride.Device},
	{"motor_speed", ride.MotorRPM, ride.Device},
	{"motor_temp", ride.MotorTemp, ride.Device},
	{"motor_temperature", ride.MotorTemp, ride.Device},
	{"air_temp", ride.AirTemp, ride.Device},
	{"air_temperature", ride.AirTemp, ride.Device},
	{"assist_level", ride.AssistLevel, ride.Device},
	{"altitude", ride.Altitude, ride.Device},
	{"lat", ride.Latitude, ride.Device},
	{"latitude", ride.Latitude, ride.Device},
	{"lon", ride.Longitude, ride.Device},
	{"longitude", ride.Longitude, ride.Device},
}

// understand finds out what each column of the header holds.
func (r *reader) understand(names []string, line int, given *Columns) error {
	r.timeAt, r.elapsed = -1, -1
	held := map[ride.Channel]string{}
	var left []string
	for i, name := range names {
		c, known, err := given.column(name)
		if !known && err == nil {
			c, known, err = ownColumn(name)
		}
		if !known && err == nil {
			c, known = spelt(name)
			if _, twice := held[c.channel]; twice && c.role == value {
				c, known = column{}, false
			}
		}
		if err != nil {
			return fmt.Errorf("line %d, column %q: %w: %w", line, short(name), ErrColumn, err)
		}
		c.name = name
		switch {
		case !known:
			if name != "" {
				left = append(left, fmt.Sprintf("%q%s", short(name), hint(name)))
			}
		case c.role == absoluteTime && r.timeAt < 0:
			r.timeAt = i
		case c.role == elapsedTime && r.elapsed < 0:
			r.elapsed = i
		case c.role == value:
			if other, twice := held[c.channel]; twice {
				return fmt.Errorf("line %d: %w: columns %q and %q both hold %s; leave one out with the column map", line, ErrColumn, short(other), short(name), c.channel)
			}
			held[c.channel] = name
			r.track.Origins[c.channel] = c.origin
		}
		r.columns = append(r.columns, c)
	}
	if missing := given.missing(names); len(missing) > 0 {
		r.troubles.add(r.file, line, fmt.Sprintf("the column map names columns that the table lacks: %s", strings.Join(missing, ", ")), "check the spelling of the names in the column map")
	}
	switch {
	case r.timeAt < 0 && r.elapsed < 0:
		return fmt.Errorf("line %d: %w: no column of time among %s; name one time or elapsed_s, or map it with a column map", line, ErrNotTable, listed(names))
	case len(held) == 0:
		return fmt.Errorf("line %d: %w: no column that a ride can use among %s; use names such as speed_kmh, cadence_rpm, battery_current_a, or a column map", line, ErrNotTable, listed(names))
	case len(left) > 0:
		r.troubles.add(r.file, line, "columns were left out: "+strings.Join(left, ", "), "name them in a column map to have them read")
	}
	return nil
}

func listed(names []string) string {
	const enough = 12
	quoted := make([]string, 0, enough)
	for _, n := range names[:min(len(names), enough)] {
		quoted = append(quoted, fmt.Sprintf("%q", short(n)))
	}
	if len(names) > enough {
		quoted = append(quoted, "…")
	}
	return strings.Join(quoted, ", ")
}

// hint tells what a column that is left out looks like.
func hint(name string) string {
	bare, unit := parted(name)
	if g, ok := quantity.Take(bare, unit); ok && g.Factor == quantity.One {
		return fmt.Sprintf(" (it looks like %s)", g.Channel)
	}
	return ""
}

// spelt reads an own name as a table for people spells it, "Battery voltage
// [V]" for battery_voltage_v. Unlike an own name it is left out where the unit
// is of something else: it may mean what it likes.
func spelt(name string) (c column, known bool) {
	bare, unit := parted(name)
	if bare == name || !strings.ContainsAny(name[len(name)-1:], ")]") {
		return column{}, false
	}
	bare = strings.ToLower(strings.Join(strings.Fields(bare), "_"))
	if bare == "time" || bare == "elapsed_time" {
		bare = "elapsed"
	}
	c, known, _ = ownColumn(bare + "_" + unit)
	return c, known
}

// parted takes a unit in brackets from the end of a name.
func parted(name string) (bare, unit string) {
	if i := strings.IndexAny(name, "([{"); i > 0 {
		return name[:i], strings.Trim(name[i:], "()[]{} ")
	}
	return name, ""
}

// ownColumn reads one of the own names. A name that begins like one and ends
// in a unit that the channel cannot have is an error: it would be a column
// silently lost.
func ownColumn(name string) (c column, known bool, err error) {
	switch name = strings.ToLower(strings.TrimSpace(name)); name {
	case "time", "timestamp":
		return column{role: absoluteTime}, true, nil
	case "time_unix_s":
		return column{role: absoluteTime, unix: 1}, true, nil
	case "time_unix_ms":
		return column{role: absoluteTime, unix: 1e-3}, true, nil
	case "elapsed_s":
		return column{role: elapsedTime, scale: 1}, true, nil
	case "elapsed_ms":
		return column{role: elapsedTime, scale: 1e-3}, true, nil
	}
	best := -1
	for i, own := range ownNames {
		fits := name == own.name || strings.HasPrefix(name, own.name+"_")
		if fits && (best < 0 || len(own.name) > len(ownNames[best].name)) {
			best = i
		}
	}
	if best < 0 {
		return column{}, false, nil
	}
	own := ownNames[best]
	suffix := strings.TrimPrefix(strings.TrimPrefix(name, own.name), "_")
	kind := quantity.Of(own.channel)
	if suffix == "" && kind == quantity.Angle {
		suffix = "deg"
	}
	u, ok := quantity.Parse(suffix)
	if !ok || u.Kind != kind {
		if own.name == "motor" { // a motor has more columns than its speed
			return column{}, false, nil
		}
		said := fmt.Sprintf("%q is no unit of %s", suffix, own.channel)
		if suffix == "" {
			said = "the name does not tell the unit"
		}
		return column{}, false, fmt.Errorf("%s; accepted are %s", said, acceptedNames(own.name, kind))
	}
	return column{role: value, channel: own.channel, origin: own.origin, unit: u, scale: 1}, true, nil
}

func acceptedNames(base string, kind quantity.Kind) string {
	var names []string
	if kind == quantity.Angle {
		names = append(names, base)
	}
	for _, unit := range quantity.Names(kind) {
		names = append(names, strings.TrimSuffix(base+"_"+unit, "_"))
	}
	return strings.Join(names, ", ")
}

// Names lists the own column names, each with the units that it can carry.
func Names() []string {
	names := []string{"time", "time_unix_s", "time_unix_ms", "elapsed_s", "elapsed_ms"}
	for _, own := range ownNames {
		names = append(names, strings.Split(acceptedNames(own.name, quantity.Of(own.channel)), ", ")...)
	}
	return slices.Compact(names)
}

// The layouts of absolute time that are read without being told.
var layouts = []string{time.RFC3339Nano, "2006-01-02 15:04:05Z07:00", "2006-01-02T15:04:05", "2006-01-02 15:04:05"}

// parseTime reads an absolute time. One without a zone counts in the column's
// zone, UTC if it has none.
func (c *column) parseTime(s string, decimalComma bool) (time.Time, error) {
	zone := c.zone
	if zone == nil {
		zone = time.UTC
	}
	if c.unix != 0 {
		var v float64
		if decimalComma {
			s = strings.Replace(s, ",", ".", 1)
		}
		if _, err := fmt.Sscan(s, &v); err != nil {
			return time.Time{}, err
		}
		return time.UnixMicro(int64(v * c.unix * 1e6)), nil
	}
	if c.layout != "" {
		return time.ParseInLocation(c.layout, s, zone)
	}
	// The layout that fitted last is tried first.
	for i, layout := range layouts {
		if at, err := time.ParseInLocation(layout, s, zone); err == nil {
			c.layout = layouts[i]
			return at, nil
		}
	}
	return time.Time{}, fmt.Errorf("%q is no time", short(s))
}

func (c *column) timeCure() string {
	if c.role == elapsedTime {
		return "write seconds as a number"
	}
	return "write times as 2026-05-04T06:30:00Z, or give their form in a column map"
}
