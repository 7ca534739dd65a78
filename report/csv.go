package report

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"
	"time"

	"cogledger/analysis"
	"cogledger/analysis/drive"
	"cogledger/ingest/ride"
)

// CSVNames are the tables that CSV writes.
func CSVNames() []string { return []string{"seconds.csv", "segments.csv"} }

// CSV writes the tables of CSVNames, each by way of write, in SI units whatever
// the reader's. Cells that are not known are empty.
func CSV(set *analysis.Set, o Options, write func(name string, fill func(io.Writer) error) error) error {
	all := views(set, o)
	table := func(name string, fill func(row func(...string) error) error) error {
		return write(name, func(to io.Writer) error {
			w := csv.NewWriter(to)
			if err := fill(func(cells ...string) error { return w.Write(cells) }); err != nil {
				return err
			}
			w.Flush()
			return w.Error()
		})
	}
	if err := table("seconds.csv", func(row func(...string) error) error { return secondRows(all, o, row) }); err != nil {
		return err
	}
	return table("segments.csv", func(row func(...string) error) error { return segmentRows(all, row) })
}

// secondRows writes one row a second of every ride.
func secondRows(all []*view, o Options, row func(...string) error) error {
	err := row("t_s", "time", "lat", "lon", "altitude_m", "grade", "speed_mps", "cadence_rpm", "rider_w", "battery_v", "battery_a", "battery_w",
		"front", "rear", "gear_probability", "motor_rpm", "motor_a", "motor_out_w", "efficiency", "class", "legs_class", "winding_c",
		"plan_front", "plan_rear", "plan_battery_w", "hub_step", "plan_hub_step", "ride")
	if err != nil {
		return err
	}
	for k, v := range all {
		d, r := v.Drive, v.Road
		volts, amps := v.battery()
		number := strconv.Itoa(k + 1)
		for i := v.from; i < v.to; i++ {
			lat, lon := v.position(i)
			at := ""
			if !o.Privacy && !v.Ride.Start.IsZero() {
				at = v.Ride.Start.Add(time.Duration(i) * time.Second).UTC().Format(time.RFC3339)
			}
			used, planned := v.gearCells(v.Gears.Index, i), v.gearCells(v.Plan.Gear, i)
			err := row(strconv.Itoa(i), at, plainNumber(lat, 7), plainNumber(lon, 7),
				plainNumber(v.altitude(i), 2), plainNumber(valueAt(r.Grade, i), 5), plainNumber(v.speed(i), 3), plainNumber(v.Ride.At(ride.CadenceRPM, i), 1),
				plainNumber(v.Ride.At(ride.RiderPower, i), 1), plainNumber(valueAt(volts, i), 3), plainNumber(valueAt(amps, i), 3), plainNumber(valueAt(d.Terminal, i), 2),
				used[0], used[1], plainNumber(valueAt(v.Gears.Probability, i), 4), plainNumber(valueAt(d.MotorSpeed, i)*rpmPerRadPerS, 1),
				plainNumber(valueAt(d.MotorAmps, i), 3), plainNumber(valueAt(d.Shaft, i), 2), plainNumber(valueAt(d.Efficiency, i), 4),
				v.class(i).String(), v.legsClass(i).String(), plainNumber(valueAt(d.Winding, i), 2),
				planned[0], planned[1], plainNumber(valueAt(v.Plan.Terminal, i), 2), used[2], planned[2], number)
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// segmentRows writes one row a stretch ridden in one gear and one class.
func segmentRows(all []*view, row func(...string) error) error {
	err := row("ride", "ride_name", "start_s", "seconds", "start_m", "distance_m", "lat", "lon", "grade", "speed_mps", "front", "rear", "hub_step",
		"class", "legs_class", "motor_rpm", "band_low_rpm", "band_high_rpm", "battery_wh", "copper_wh", "winding_c", "plan_front", "plan_rear", "plan_hub_step", "plan_battery_wh", "spot")
	if err != nil {
		return err
	}
	for k, v := range all {
		for from := v.from; from < v.to; {
			to := from + 1
			for to < v.to && v.class(to) == v.class(from) && indexAt(v.Gears.Index, to) == indexAt(v.Gears.Index, from) {
				to++
			}
			if err := row(v.segment(k+1, from, to)...); err != nil {
				return err
			}
			from = to
		}
	}
	return nil
}

func (v *view) segment(number, from, to int) []string {
	d, r := v.Drive, v.Road
	mean := func(column []float64, factor float64, digits int) string {
		return plainNumber(meanOf(column, from, to)*factor, digits)
	}
	energy := func(column []float64) string { return plainNumber(sumOf(column, from, to)/3600, 5) }
	lat, lon := v.position(from)
	used := v.gearCells(v.Gears.Index, from)
	planned := v.gearCells(v.Plan.Gear, from+(to-from)/2)
	start := valueAt(r.Distance, from)
	spotCell := ""
	for _, s := range v.spots {
		if s.From < to && s.To > from {
			spotCell = strconv.Itoa(s.number)
		}
	}
	return []string{strconv.Itoa(number), safeText(v.name), strconv.Itoa(from), strconv.Itoa(to - from), plainNumber(start, 1), plainNumber(valueAt(r.Distance, to-1)-start, 1),
		plainNumber(lat, 7), plainNumber(lon, 7), mean(r.Grade, 1, 5), mean(r.Speed, 1, 3), used[0], used[1], used[2],
		v.class(from).String(), v.legsClass(from + (to-from)/2).String(), mean(d.MotorSpeed, rpmPerRadPerS, 1), mean(d.BandLow, rpmPerRadPerS, 1), mean(d.BandHigh, rpmPerRadPerS, 1),
		energy(d.Terminal), energy(d.Copper), mean(d.Winding, 1, 2), planned[0], planned[1], planned[2], energy(v.Plan.Terminal), spotCell}
}

// gearCells are front, rear and hub step of a gear; empty where unknown.
func (v *view) gearCells(index []int, i int) [3]string {
	g := indexAt(index, i)
	if g < 0 || g >= len(v.gears) {
		return [3]string{}
	}
	cells := [3]string{strconv.Itoa(v.gears[g].Front), strconv.Itoa(v.gears[g].Rear)}
	if s := v.gears[g].HubStep; s > 0 {
		cells[2] = strconv.Itoa(s)
	}
	return cells
}

func indexAt(index []int, i int) int {
	if i < 0 || i >= len(index) {
		return -1
	}
	return index[i]
}

func (v *view) legsClass(i int) drive.LegsClass {
	if i < 0 || i >= len(v.Drive.LegsClass) {
		return drive.LegsUnknown
	}
	return v.Drive.LegsClass[i]
}

func (v *view) altitude(i int) float64 {
	if v.Road.Altitude != nil {
		return valueAt(v.Road.Altitude, i)
	}
	return v.Ride.At(ride.Altitude, i)
}

func (v *view) speed(i int) float64 {
	if v.Road.Speed != nil {
		return valueAt(v.Road.Speed, i)
	}
	return v.Ride.At(ride.Speed, i)
}

// sumOf adds the known values, NaN when none is known.
func sumOf(column []float64, from, to int) float64 {
	total, any := 0.0, false
	for i := from; i < min(to, len(column)); i++ {
		if finite(column[i]) {
			total += column[i]
			any = true
		}
	}
	if !any {
		return nan()
	}
	return total
}

// plainNumber is a number as spreadsheets read it, empty when not known.
func plainNumber(v float64, digits int) string {
	if !finite(v) {
		return ""
	}
	return string(appendNumber(nil, v, digits))
}

// safeText keeps text from a log from being run as a formula: a cell that a
// spreadsheet would compute gets an apostrophe in front.
func safeText(s string) string {
	trimmed := strings.TrimLeft(s, " \u00a0\ufeff\u200b")
	if trimmed != "" && strings.ContainsRune("=+-@\t\r\n|%＝＋－＠", []rune(trimmed)[0]) {
		return "'" + s
	}
	return s
}
