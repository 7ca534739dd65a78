// Package tcxlog reads rides in TCX, the training centre database format, as a
// stream of XML tokens.
package tcxlog

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"cogledger/ingest/markup"
	"cogledger/ingest/ride"
)

// Limits bound what a file may hold. The zero value takes the defaults.
type Limits struct {
	Bytes  int // default 256 MiB
	Points int // default 2,000,000
}

func (l Limits) orDefaults() Limits {
	if l.Bytes == 0 {
		l.Bytes = 256 << 20
	}
	if l.Points == 0 {
		l.Points = 2_000_000
	}
	return l
}

// Errors that Read wraps.
var (
	ErrNotTCX   = errors.New("not a TCX file")
	ErrNoPoints = errors.New("holds no track point with a time")
	ErrTooLarge = errors.New("too large")
)

// Read reads all activities of a TCX file. file is the base name that notes
// and errors carry.
func Read(data []byte, file string, limits Limits) ([]*ride.Track, error) {
	limits = limits.orDefaults()
	if len(data) > limits.Bytes {
		return nil, fmt.Errorf("%s: %w: %d bytes, the limit is %d; split the log", file, ErrTooLarge, len(data), limits.Bytes)
	}
	r := &reader{in: markup.NewReader(data), file: file, points: limits.Points}
	err := r.read()
	switch {
	case err != nil:
		return nil, fmt.Errorf("%s: %w", file, err)
	case !r.database:
		return nil, fmt.Errorf("%s: %w: its outermost element is not TrainingCenterDatabase; export it again", file, ErrNotTCX)
	case len(r.tracks) == 0:
		why := "it may be a course or a workout; choose the recording of the ride"
		if line, damage, ok := r.in.Damage(); ok {
			why = fmt.Sprintf("line %d: %s", line, damage)
		} else if r.untimed > 0 {
			why = fmt.Sprintf("%d points have no time", r.untimed)
		}
		return nil, fmt.Errorf("%s: %w: %s", file, ErrNoPoints, why)
	}
	r.notes()
	return r.tracks, nil
}

type reader struct {
	in       *markup.Reader
	file     string
	points   int
	path     []string // names of the open elements
	units    []string // their unit attributes
	text     []byte
	database bool

	tracks  []*ride.Track
	track   *ride.Track // of the activity that is being read
	sport   string
	point   point
	untimed int
	bad     int // values that are no numbers
	badLine int

	extensions markup.Extensions
	tooMany    bool
}

// A point gathers the values of one Trackpoint until it ends: its time may
// come last.
type point struct {
	at       time.Time
	values   [ride.ChannelCount]float64
	extended []extended
}

type extended struct{ name, unit, text string }

func (p *point) clear() {
	p.at, p.extended = time.Time{}, p.extended[:0]
	for c := range p.values {
		p.values[c] = math.NaN()
	}
}

func (r *reader) read() error {
	for {
		token, err := r.in.Token()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		switch t := token.(type) {
		case xml.StartElement:
			r.start(t)
		case xml.EndElement:
			r.end(t.Name.Local)
			if r.tooMany {
				return nil
			}
		case xml.CharData:
			r.text = append(r.text, t...)
		}
	}
}

func (r *reader) start(t xml.StartElement) {
	name := t.Name.Local
	if len(r.path) == 0 {
		r.database = r.database || name == "TrainingCenterDatabase"
	}
	unit := ""
	switch name {
	case "Activity":
		r.track = &ride.Track{Name: r.file, Sources: []ride.Source{{File: r.file, Format: "TCX"}}}
		r.sport = attribute(t, "Sport")
	case "Trackpoint":
		r.point.clear()
	default:
		unit = attribute(t, "unit")
	}
	r.path, r.units = append(r.path, name), append(r.units, unit)
	r.text = r.text[:0]
}

func attribute(t xml.StartElement, name string) string {
	for _, a := range t.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func (r *reader) end(name string) {
	unit := r.units[len(r.units)-1]
	r.path, r.units = r.path[:len(r.path)-1], r.units[:len(r.units)-1]
	text := r.text
	r.text = r.text[:0]
	switch {
	case name == "Activity":
		r.finish()
	case r.track == nil:
	case name == "Trackpoint":
		r.sample()
	case r.within("Trackpoint"):
		r.value(name, unit, text)
	case r.parent("Creator") && name == "Name":
		r.track.Sources[0].Device = ride.Label(string(text))
	case r.parent("Creator") && name == "UnitId":
		r.track.Sources[0].Serial = ride.Label(string(text))
	}
}

func (r *reader) parent(name string) bool {
	return len(r.path) > 0 && r.path[len(r.path)-1] == name
}

func (r *reader) within(name string) bool {
	for i := len(r.path) - 1; i >= 0; i-- {
		if r.path[i] == name {
			return true
		}
	}
	return false
}

// standard are the elements of a Trackpoint itself.
var standard = map[string]ride.Channel{
	"LatitudeDegrees": ride.Latitude, "LongitudeDegrees": ride.Longitude,
	"AltitudeMeters": ride.Altitude, "DistanceMeters": ride.Distance, "Cadence": ride.CadenceRPM,
}

// value takes the text of an element inside a Trackpoint.
func (r *reader) value(name, unit string, text []byte) {
	if name == "Time" {
		r.point.at, _ = markup.ParseTime(text)
		return
	}
	if r.within("Extensions") {
		if len(r.point.extended) < 100 {
			r.point.extended = append(r.point.extended, extended{name, unit, string(text)})
		}
		return
	}
	c, ok := standard[name]
	if !ok {
		return
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(string(text)), 64)
	if err != nil || math.IsInf(v, 0) {
		if r.bad++; r.bad == 1 {
			r.badLine = r.in.Line()
		}
		return
	}
	r.point.values[c] = v
}

// sample ends a Trackpoint.
func (r *reader) sample() {
	if _, _, damaged := r.in.Damage(); damaged {
		return // cut somewhere inside
	}
	if r.point.at.IsZero() {
		r.untimed++
		return
	}
	if r.points--; r.points < 0 {
		r.tooMany = true
		r.finish()
		return
	}
	t := r.track
	if len(t.Time) == 0 {
		t.Epoch = r.point.at.UTC()
	}
	t.Sample(r.point.at.Sub(t.Epoch).Seconds())
	for c, v := range r.point.values {
		t.Put(ride.Channel(c), v)
	}
	for _, e := range r.point.extended {
		r.extensions.Take(t, e.name, e.unit, e.text)
	}
}

// finish ends an Activity.
func (r *reader) finish() {
	if r.track != nil && len(r.track.Time) > 0 {
		if r.sport != "" && r.sport != "Biking" && r.sport != "Other" {
			for i := range r.track.Sources {
				r.track.Sources[i].Sport = ride.Label(r.sport)
			}
			r.track.Notes = append(r.track.Notes, ride.Note{File: r.file, Text: fmt.Sprintf("the log says that it is not of cycling (%s); it was read all the same", ride.Label(r.sport))})
		}
		r.tracks = append(r.tracks, r.track)
	}
	r.track = nil
}

// notes tells what was repaired or left out, on the first track.
func (r *reader) notes() {
	note := func(place, text, cure string) {
		r.tracks[0].Notes = append(r.tracks[0].Notes, ride.Note{File: r.file, Place: place, Text: text, Cure: cure})
	}
	if line, why, damaged := r.in.Damage(); damaged {
		note(fmt.Sprintf("line %d", line), why+"; all points before this place were read", "export the file again")
	}
	if r.tooMany {
		note(fmt.Sprintf("line %d", r.in.Line()), "the file holds more points than a ride can; it was read up to here", "split the log")
	}
	if r.untimed > 0 {
		note("", fmt.Sprintf("%d points have no time that can be read and were left out", r.untimed), "")
	}
	if r.bad > 0 {
		note(fmt.Sprintf("line %d", r.badLine), fmt.Sprintf("%d values are no numbers and were left out", r.bad), "")
	}
	if len(r.extensions.Taken) > 0 {
		note("", "extensions were taken: "+strings.Join(r.extensions.Taken, ", "), "")
	}
}
