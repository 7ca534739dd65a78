// Package gpxlog reads rides in GPX, the GPS exchange format, through
// github.com/tkrajina/gpxgo. A filter before it keeps to the track points,
// reads their times with fraction and zone, and saves truncated files.
package gpxlog

import (
	"encoding/xml"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"cogledger/ingest/markup"
	"cogledger/ingest/ride"

	"github.com/tkrajina/gpxgo/gpx"
)

// Limits bound what a file may hold. The zero value takes the defaults.
type Limits struct {
	Bytes  int // default 256 MiB
	Points int // default 500,000
}

func (l Limits) orDefaults() Limits {
	if l.Bytes == 0 {
		l.Bytes = 256 << 20
	}
	if l.Points == 0 {
		l.Points = 500_000
	}
	return l
}

// Errors that Read wraps.
var (
	ErrNotGPX   = errors.New("not a GPX file")
	ErrNoPoints = errors.New("holds no track point with a time")
	ErrTooLarge = errors.New("too large")
)

// Read reads all tracks of a GPX file. file is the base name that notes and
// errors carry.
func Read(data []byte, file string, limits Limits) ([]*ride.Track, error) {
	limits = limits.orDefaults()
	if len(data) > limits.Bytes {
		return nil, fmt.Errorf("%s: %w: %d bytes, the limit is %d; split the log", file, ErrTooLarge, len(data), limits.Bytes)
	}
	f := &filter{in: markup.NewReader(data), points: limits.Points}
	document, err := gpx.ParseDecoder(xml.NewTokenDecoder(f), nil)
	switch {
	case f.refused != nil:
		return nil, fmt.Errorf("%s: %w", file, f.refused)
	case err != nil:
		return nil, fmt.Errorf("%s: %w: %v; export it again", file, ErrNotGPX, err)
	}
	a := assembler{file: file, filter: f, device: ride.Label(document.Creator)}
	for i := range document.Tracks {
		a.track(&document.Tracks[i])
	}
	if len(a.tracks) == 0 {
		why := "it may be a planned route or a list of waypoints; choose the recording of the ride"
		if a.untimed > 0 {
			why = fmt.Sprintf("%d points have no time, without which there is no speed; export it with times", a.untimed)
		}
		return nil, fmt.Errorf("%s: %w: %s", file, ErrNoPoints, why)
	}
	a.notes()
	return a.tracks, nil
}

// An assembler turns the decoded document into tracks.
type assembler struct {
	file, device string
	filter       *filter
	extensions   markup.Extensions
	tracks       []*ride.Track
	next         int // of the filter's points
	untimed      int
	misplaced    int
}

func (a *assembler) track(from *gpx.GPXTrack) {
	t := &ride.Track{Name: ride.Label(from.Name), Sources: []ride.Source{{File: a.file, Format: "GPX", Device: a.device}}}
	if t.Name == "" {
		t.Name = a.file
	}
	for _, segment := range from.Segments {
		for i := range segment.Points {
			a.point(t, &segment.Points[i])
		}
	}
	if len(t.Time) > 0 {
		a.tracks = append(a.tracks, t)
	}
}

func (a *assembler) point(t *ride.Track, p *gpx.GPXPoint) {
	if a.next >= len(a.filter.times) || a.filter.broken && a.next == len(a.filter.times)-1 {
		return // the last point of a truncated file is cut somewhere inside
	}
	at := a.filter.times[a.next]
	a.next++
	if at.IsZero() {
		a.untimed++
		return
	}
	if len(t.Time) == 0 {
		t.Epoch = at.UTC()
	}
	t.Sample(at.Sub(t.Epoch).Seconds())
	if math.Abs(p.Latitude) <= 90 && math.Abs(p.Longitude) <= 180 {
		t.Put(ride.Latitude, p.Latitude)
		t.Put(ride.Longitude, p.Longitude)
	} else {
		a.misplaced++
	}
	if p.Elevation.NotNull() {
		t.Put(ride.Altitude, p.Elevation.Value())
	}
	a.extend(t, p.Extensions.Nodes)
}

func (a *assembler) extend(t *ride.Track, nodes []gpx.ExtensionNode) {
	for i := range nodes {
		n := &nodes[i]
		if len(n.Nodes) > 0 {
			a.extend(t, n.Nodes)
			continue
		}
		a.extensions.Take(t, n.XMLName.Local, n.GetAttrOrEmpty("unit"), n.Data)
	}
}

// notes tells what was repaired or left out, on the first track.
func (a *assembler) notes() {
	note := func(place, text, cure string) {
		a.tracks[0].Notes = append(a.tracks[0].Notes, ride.Note{File: a.file, Place: place, Text: text, Cure: cure})
	}
	if line, why, damaged := a.filter.in.Damage(); damaged {
		note(fmt.Sprintf("line %d", line), why+"; all points before this place were read", "export the file again")
	}
	if a.filter.tooMany {
		note("", fmt.Sprintf("the file holds more points than a ride can; the first %d were read", len(a.filter.times)), "split the log")
	}
	if a.untimed > 0 {
		note(place(a.filter.untimedLine), fmt.Sprintf("%d points have no time that can be read and were left out", a.untimed), "")
	}
	if a.misplaced > 0 {
		note(place(a.filter.misplacedLine), fmt.Sprintf("%d positions are none on Earth and were dropped", a.misplaced), "")
	}
	if len(a.extensions.Taken) > 0 {
		note("", "extensions were taken: "+strings.Join(a.extensions.Taken, ", "), "")
	}
}

func place(line int) string {
	if line == 0 {
		return ""
	}
	return fmt.Sprintf("line %d", line)
}

var zeroTime time.Time
