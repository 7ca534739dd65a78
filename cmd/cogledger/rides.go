package main

import (
	"errors"
	"fmt"
	"path/filepath"

	"cogledger/ingest"
	"cogledger/ingest/ride"
)

// A logReader opens the logs that a command names and lays the logs of a
// second device on them. The zero value reads plain logs.
type logReader struct {
	options ingest.Options
	seconds []*secondLog
	manual  ingest.JoinOptions
	of      map[place][]*secondLog // chosen by assign
}

// A secondLog is the log of another device, waiting for its ride.
type secondLog struct {
	path    string
	track   *ride.Track
	joined  bool
	refused error // why it belongs to none of the rides
}

// A place is a ride in a file.
type place struct {
	path string
	part int
}

// openSecond opens the logs of a second device.
func (l *logReader) openSecond(paths []string) error {
	for _, path := range paths {
		tracks, err := ingest.Open(path, l.options)
		if err != nil {
			return err
		}
		for _, t := range tracks {
			l.seconds = append(l.seconds, &secondLog{path: path, track: t})
		}
	}
	return nil
}

// assign chooses, before the rides are read for good, which second log belongs to
// which of them: all pairs are weighed together. A log that cannot be read is told
// when its turn comes. An offset given by hand says it all.
func (l *logReader) assign(paths []string) {
	if len(l.seconds) == 0 || l.manual.Manual {
		return
	}
	var places []place
	var rides, seconds []*ride.Track
	for _, path := range paths {
		tracks, err := ingest.Open(path, l.options)
		if err != nil {
			continue
		}
		for part, t := range tracks {
			places, rides = append(places, place{path, part}), append(rides, t)
		}
	}
	for _, second := range l.seconds {
		seconds = append(seconds, second.track)
	}
	chosen := ingest.Assign(rides, seconds)
	l.of = make(map[place][]*secondLog)
	for i, of := range chosen.Of {
		for _, k := range of {
			l.of[places[i]] = append(l.of[places[i]], l.seconds[k])
		}
	}
	for k, err := range chosen.Refused {
		l.seconds[k].refused = err
	}
}

// rides reads the rides in one file, joined with the second logs that match.
func (l *logReader) rides(path string) ([]*ride.Ride, error) {
	tracks, err := ingest.Open(path, l.options)
	if err != nil {
		return nil, err
	}
	var rides []*ride.Ride
	var failed error
	for part, t := range tracks {
		r, err := l.joined(t, place{path, part}).Ride()
		if err != nil {
			failed = errors.Join(failed, err)
			continue
		}
		rides = append(rides, r)
	}
	if len(rides) == 0 {
		return nil, failed
	}
	return rides, nil
}

// joined lays on the track the second logs that were chosen for it; by hand, all
// of them.
func (l *logReader) joined(t *ride.Track, at place) *ride.Track {
	waiting := l.of[at]
	if l.manual.Manual {
		waiting = l.seconds
	}
	for _, second := range waiting {
		if second.joined {
			continue
		}
		both, _, err := ingest.Join(t, second.track, l.manual)
		if err != nil {
			second.refused = err
			continue
		}
		t, second.joined = both, true
	}
	return t
}

// unmatched lists the second logs that belong to none of the rides read.
func (l *logReader) unmatched() error {
	var all error
	for _, second := range l.seconds {
		if !second.joined {
			reason := second.refused
			if reason == nil {
				reason = errors.New("there is no ride to join it to")
			}
			all = errors.Join(all, fmt.Errorf("%s was not joined: %w", filepath.Base(second.path), reason))
		}
	}
	return all
}
