// Package fitlog reads and writes rides in FIT, the flexible and interoperable
// data transfer protocol that bike computers log in.
//
// One pass decodes a file. Files of standard messages go through
// github.com/tormoder/fit. Those whose records hold developer fields, where
// drives log volts and amperes, or fields that this decoder does not know or adds
// up wrongly, go through github.com/muktihari/fit; so do files that the first one
// refuses. Before either, the frame of the file is walked: that finds chained
// files, tells the byte where a damaged one breaks, and lets every record
// before the damage be read.
package fitlog

import (
	"errors"
	"fmt"
	"strings"

	"cogledger/ingest/ride"
)

// Limits bound what a file may hold. The zero value takes the defaults.
type Limits struct {
	Bytes    int // of the file; default 128 MiB
	Records  int // of all parts together; default 500,000, some six days at one a second
	Messages int // of any kind, of all parts together; default 2,000,000
	Parts    int // chained one after another; default 100
}

func (l Limits) orDefaults() Limits {
	if l.Bytes == 0 {
		l.Bytes = 128 << 20
	}
	if l.Records == 0 {
		l.Records = 500_000
	}
	if l.Messages == 0 {
		l.Messages = 2_000_000
	}
	if l.Parts == 0 {
		l.Parts = 100
	}
	return l
}

// Errors that Read wraps.
var (
	ErrNotFIT    = errors.New("not a FIT file")
	ErrNoRecords = errors.New("holds no records of a ride")
	ErrTooLarge  = errors.New("too large")
)

// Read decodes all rides in the bytes of a FIT file, one Track for each chained
// part that holds records. file is the base name that notes and errors carry.
// What a damaged file still holds is returned with a note that tells the byte
// where it breaks; an error means that there is nothing to return.
func Read(data []byte, file string, limits Limits) ([]*ride.Track, error) {
	limits = limits.orDefaults()
	if len(data) > limits.Bytes {
		return nil, fmt.Errorf("%s: %w: %d bytes, the limit is %d; split the log", file, ErrTooLarge, len(data), limits.Bytes)
	}
	frames, err := walk(data, limits)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	var tracks []*ride.Track
	var idle []string // what the parts without records are
	for _, f := range frames {
		log := newLog(file)
		f.decode(log)
		track := log.finish()
		for _, n := range f.notes {
			n.File = file
			track.Notes = append(track.Notes, n)
		}
		if !holdsSomething(track) {
			for _, n := range track.Notes {
				idle = append(idle, strings.TrimPrefix(n.String(), file+": "))
			}
			continue
		}
		if len(frames) > 1 {
			track.Name = fmt.Sprintf("%s, part %d", file, len(tracks)+1)
		}
		tracks = append(tracks, track)
	}
	if len(tracks) == 0 {
		why := "it may be a settings, workout or course file; choose the file of the ride"
		if len(idle) > 0 {
			why = strings.Join(idle, "; ")
		}
		return nil, fmt.Errorf("%s: %w: %s", file, ErrNoRecords, why)
	}
	return tracks, nil
}

// holdsSomething reports whether any record of the track holds any channel.
func holdsSomething(t *ride.Track) bool {
	for c := range ride.ChannelCount {
		if t.Has(c) {
			return true
		}
	}
	return false
}
