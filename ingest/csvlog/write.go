package csvlog

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"cogledger/ingest/ride"
)

// Write writes a track as a table with the package's own column names: the
// channels that it holds, one row a sample, empty where missing. A track whose
// first source was made by simulation says so in a comment before the header.
// Shifts have no column and are not written.
func Write(w io.Writer, t *ride.Track) error {
	out := bufio.NewWriter(w)
	comments(out, t)
	var held []ride.Channel
	if !t.Epoch.IsZero() {
		out.WriteString("time,")
	}
	out.WriteString("elapsed_s")
	for c := range ride.ChannelCount {
		if t.Has(c) {
			held = append(held, c)
			out.WriteString("," + writtenName(c, t.Origins[c]))
		}
	}
	out.WriteByte('\n')
	var b []byte
	for i, s := range t.Time {
		b = b[:0]
		if !t.Epoch.IsZero() {
			b = t.Epoch.Add(time.Duration(math.Round(s*1000))*time.Millisecond).AppendFormat(b, "2006-01-02T15:04:05.999Z07:00")
			b = append(b, ',')
		}
		b = appendNumber(b, s, 3)
		for _, c := range held {
			b = append(b, ',')
			v := t.Values[c][i]
			if c == ride.Speed {
				v *= 3.6
			}
			b = appendNumber(b, v, decimals[c])
		}
		out.Write(append(b, '\n'))
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("writing CSV: %w", err)
	}
	return nil
}

func comments(out *bufio.Writer, t *ride.Track) {
	if len(t.Sources) == 0 {
		return
	}
	line := func(key, value string) {
		if value = ride.Label(value); value != "" {
			fmt.Fprintf(out, "# %s: %s\n", key, value)
		}
	}
	s := t.Sources[0]
	if s.Made {
		fmt.Fprintf(out, "# %s\n", madeLabel)
	}
	line("name", t.Name)
	line("device", s.Device)
	line("serial", s.Serial)
}

// writtenName is the own name that a channel is written under.
func writtenName(c ride.Channel, from ride.Origin) string {
	switch c {
	case ride.Speed:
		switch from {
		case ride.WheelSensor:
			return "wheel_speed_kmh"
		case ride.Satellite:
			return "gps_speed_kmh"
		}
	}
	return writtenNames[c]
}

var writtenNames = [ride.ChannelCount]string{
	ride.Speed:         "speed_kmh",
	ride.Distance:      "distance_m",
	ride.CadenceRPM:    "cadence_rpm",
	ride.RiderPower:    "rider_power_w",
	ride.MotorPower:    "motor_power_w",
	ride.BatteryVolts:  "battery_voltage_v",
	ride.BatteryAmps:   "battery_current_a",
	ride.BatteryCharge: "battery_charge_pct",
	ride.MotorRPM:      "motor_rpm",
	ride.MotorTemp:     "motor_temp_c",
	ride.AirTemp:       "air_temp_c",
	ride.AssistLevel:   "assist_level",
	ride.Altitude:      "altitude_m",
	ride.Latitude:      "lat",
	ride.Longitude:     "lon",
}

// decimals is how finely a channel is written: finer than any logger measures.
var decimals = [ride.ChannelCount]int{
	ride.Speed: 3, ride.Distance: 2, ride.CadenceRPM: 3, ride.RiderPower: 2, ride.MotorPower: 2,
	ride.BatteryVolts: 3, ride.BatteryAmps: 3, ride.BatteryCharge: 2, ride.MotorRPM: 2, ride.MotorTemp: 2,
	ride.AirTemp: 2, ride.AssistLevel: 2, ride.Altitude: 2, ride.Latitude: 7, ride.Longitude: 7,
}

// appendNumber writes a number without needless zeros, nothing for NaN.
func appendNumber(b []byte, v float64, decimals int) []byte {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return b
	}
	power := math.Pow10(decimals)
	return strconv.AppendFloat(b, math.Round(v*power)/power, 'f', -1, 64)
}
