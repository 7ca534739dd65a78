// Package csvlog reads and writes rides as tables of text, one row a sample.
//
// The package's own column names carry their unit: speed_kmh, cadence_rpm,
// battery_current_a. Any other table is read through Columns, a map that names
// each column's channel, unit and scale. Delimiter, decimal comma, byte order
// mark and character set are detected. A row or value that cannot be read is a
// note with its line, not a failure.
package csvlog

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"cogledger/ingest/ride"
)

// Options tell how to read a table. The zero value reads the own column names.
type Options struct {
	Columns *Columns // how to read other names; nil if there are none
	Bytes   int      // limit of the table's size; default 256 MiB
	Rows    int      // limit of its rows; default 2,000,000
}

func (o Options) orDefaults() Options {
	if o.Bytes == 0 {
		o.Bytes = 256 << 20
	}
	if o.Rows == 0 {
		o.Rows = 2_000_000
	}
	return o
}

// Errors that Read wraps.
var (
	ErrNotTable = errors.New("not a table of a ride")
	ErrColumn   = errors.New("column cannot be read")
	ErrTooLarge = errors.New("too large")
	ErrNoRows   = errors.New("no row of the table could be read")
)

// madeLabel is the comment that marks a table made by simulation.
const madeLabel = "made by simulation"

// Read reads the bytes of a table. file is the base name that notes and errors
// carry.
func Read(data []byte, file string, o Options) (*ride.Track, error) {
	o = o.orDefaults()
	if len(data) > o.Bytes {
		return nil, fmt.Errorf("%s: %w: %d bytes, the limit is %d; split the log", file, ErrTooLarge, len(data), o.Bytes)
	}
	text, err := decode(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	r := &reader{
		track: &ride.Track{Name: file, Sources: []ride.Source{{File: file, Format: "CSV"}}},
		file:  file,
		lines: lines{text: text},
	}
	if err := r.header(o.Columns); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	r.rows(o.Rows)
	r.troubles.report(r.track)
	if len(r.track.Time) == 0 {
		why := "it ends after the header"
		if len(r.track.Notes) > 0 {
			why = strings.TrimPrefix(r.track.Notes[len(r.track.Notes)-1].String(), file+": ")
		}
		return nil, fmt.Errorf("%s: %w: %s", file, ErrNoRows, why)
	}
	return r.track, nil
}

type reader struct {
	track    *ride.Track
	file     string
	lines    lines
	comma    byte
	decimal  bool // numbers have a decimal comma
	columns  []column
	timeAt   int // the column of absolute time, -1 if none
	elapsed  int // the column of elapsed time, -1 if none
	troubles troubles
}

// header finds the header row and what each of its columns holds.
func (r *reader) header(given *Columns) error {
	for {
		line, ok := r.lines.next()
		if !ok {
			return fmt.Errorf("%w: it is empty", ErrNotTable)
		}
		if trimmed := strings.TrimSpace(line); trimmed == "" {
			continue
		} else if trimmed[0] == '#' {
			r.comment(strings.TrimSpace(trimmed[1:]))
			continue
		}
		break
	}
	line, number := r.lines.line, r.lines.number
	r.comma = delimiter(line, r.lines.peek())
	var names []string
	for _, name := range split(line, r.comma, nil) {
		names = append(names, strings.TrimSpace(name))
	}
	if len(names) > mostColumns {
		return fmt.Errorf("line %d: %w: %d columns, at most %d can be read", number, ErrNotTable, len(names), mostColumns)
	}
	if err := r.understand(names, number, given); err != nil {
		return err
	}
	r.decimal = r.decimalComma()
	return nil
}

// comment takes what a comment before the header says of the ride.
func (r *reader) comment(text string) {
	key, value, _ := strings.Cut(text, ":")
	switch value = ride.Label(value); strings.TrimSpace(key) {
	case madeLabel:
		r.track.Sources[0].Made = true
	case "device":
		r.track.Sources[0].Device = value
	case "serial":
		r.track.Sources[0].Serial = value
	case "name":
		if value != "" {
			r.track.Name = value
		}
	}
}

// rows reads every row after the header.
func (r *reader) rows(most int) {
	var fields []string
	r.track.Time = make([]float64, 0, min(r.lines.remaining(), most))
	for {
		line, ok := r.lines.next()
		if !ok {
			return
		}
		if blank(line) || line[0] == '#' {
			continue
		}
		if most--; most < 0 {
			r.troubles.add(r.file, r.lines.number, "the table holds more rows than a ride can; it was read up to here", "split the log")
			return
		}
		fields = split(line, r.comma, fields[:0])
		if len(fields) > len(r.columns) {
			r.troubles.add(r.file, r.lines.number, fmt.Sprintf("the row has %d fields and the header %d; what is too much was left out", len(fields), len(r.columns)), "")
		}
		r.row(fields)
	}
}

func (r *reader) row(fields []string) {
	seconds, ok := r.when(fields)
	if !ok {
		return
	}
	r.track.Sample(seconds)
	for i, c := range r.columns {
		if c.role != value || i >= len(fields) {
			continue
		}
		field := strings.TrimSpace(fields[i])
		if absent(field) {
			continue
		}
		v, ok := r.number(field)
		if !ok {
			r.troubles.add(r.file, r.lines.number, fmt.Sprintf("column %q holds %q, which is no number; the value was left out", c.name, short(field)), "")
			continue
		}
		r.track.Put(c.channel, c.unit.Convert(v*c.scale+c.offset))
	}
}

// when is the row's time in seconds since the track's epoch.
func (r *reader) when(fields []string) (float64, bool) {
	field := func(i int) string {
		if i < 0 || i >= len(fields) {
			return ""
		}
		return strings.TrimSpace(fields[i])
	}
	if e := field(r.elapsed); e != "" {
		c := r.columns[r.elapsed]
		v, ok := r.number(e)
		seconds := v*c.scale + c.offset
		if !ok {
			seconds, ok = r.clock(e)
		}
		if ok {
			if r.track.Epoch.IsZero() && len(r.track.Time) == 0 && field(r.timeAt) != "" {
				if at, err := r.columns[r.timeAt].parseTime(field(r.timeAt), r.decimal); err == nil {
					r.track.Epoch = at.Add(-time.Duration(seconds * 1e9)).UTC()
				}
			}
			return seconds, true
		}
	}
	at, err := time.Time{}, error(nil)
	if r.timeAt >= 0 {
		at, err = r.columns[r.timeAt].parseTime(field(r.timeAt), r.decimal)
	}
	switch {
	case r.timeAt < 0 || err != nil:
		i := max(r.timeAt, r.elapsed)
		r.troubles.add(r.file, r.lines.number, fmt.Sprintf("column %q holds %q, which is no time; the row was left out", r.columns[i].name, short(field(i))), r.columns[i].timeCure())
		return 0, false
	case at.Year() == 0: // a time of day alone
		return at.Sub(time.Date(0, 1, 1, 0, 0, 0, 0, at.Location())).Seconds(), true
	case r.track.Epoch.IsZero() && len(r.track.Time) == 0:
		r.track.Epoch = at.UTC()
	}
	return at.Sub(r.track.Epoch).Seconds(), true
}

// clock reads elapsed time as h:mm:ss or m:ss, in seconds.
func (r *reader) clock(s string) (float64, bool) {
	parts := strings.Split(s, ":")
	if len(parts) < 2 || len(parts) > 3 {
		return 0, false
	}
	seconds := 0.0
	for _, p := range parts {
		v, ok := r.number(p)
		if !ok || v < 0 {
			return 0, false
		}
		seconds = 60*seconds + v
	}
	return seconds, true
}

func (r *reader) number(s string) (float64, bool) {
	if r.decimal {
		s = strings.Replace(s, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, false
	}
	return v, true
}

// absent reports whether a field says that its value is missing.
func absent(s string) bool {
	switch len(s) {
	case 0:
		return true
	case 1:
		return s == "-"
	case 2:
		return strings.EqualFold(s, "na") || s == "--"
	case 3:
		return strings.EqualFold(s, "nan") || strings.EqualFold(s, "n/a")
	case 4:
		return strings.EqualFold(s, "null") || strings.EqualFold(s, "none")
	}
	return false
}

func short(s string) string {
	const longest = 40
	if len(s) > longest {
		s = s[:longest] + "…"
	}
	return ride.Label(s)
}

// troubles are the rows and values that could not be read.
type troubles struct {
	notes []ride.Note
	more  int
}

// add takes a trouble. A table can have one in every line: the first few are
// told one by one, the rest are counted.
func (t *troubles) add(file string, line int, text, cure string) {
	const enough = 10
	if len(t.notes) == enough {
		t.more++
		return
	}
	t.notes = append(t.notes, ride.Note{File: file, Place: fmt.Sprintf("line %d", line), Text: text, Cure: cure})
}

func (t *troubles) report(track *ride.Track) {
	track.Notes = append(track.Notes, t.notes...)
	if t.more > 0 {
		track.Notes = append(track.Notes, ride.Note{File: track.Sources[0].File, Text: fmt.Sprintf("%d more rows or values could not be read", t.more)})
	}
}
