package main

import (
	"errors"
	"fmt"
	"math"
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
}

// A secondLog is the log of another device, waiting for its ride.
type secondLog struct {
	path    string
	track   *ride.Track
	joined  bool
	refused error // by the ride that it came nearest to
	nearest float64
}

// openSecond opens the logs of a second device.
func (l *logReader) openSecond(paths []string) error {
	for _, path := range paths {
		tracks, err := ingest.Open(path, l.options)
		if err != nil {
			return err
		}
		for _, t := range tracks {
			l.seconds = append(l.seconds, &secondLog{path: path, track: t, nearest: math.Inf(-1)})
		}
	}
	return nil
}

// rides reads the rides in one file, joined with the second logs that match.
func (l *logReader) rides(path string) ([]*ride.Ride, error) {
	tracks, err := ingest.Open(path, l.options)
	if err != nil {
		return nil, err
	}
	var rides []*ride.Ride
	var failed error
	for _, t := range tracks {
		r, err := l.joined(t).Ride()
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

// joined lays the second logs on the track that match it.
func (l *logReader) joined(t *ride.Track) *ride.Track {
	for _, second := range l.seconds {
		if second.joined {
			continue
		}
		both, report, err := ingest.Join(t, second.track, l.manual)
		if err != nil {
			if second.refused == nil || report.Correlation > second.nearest {
				second.refused, second.nearest = err, report.Correlation
			}
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
			all = errors.Join(all, fmt.Errorf("%s was not joined: %w", filepath.Base(second.path), second.refused))
		}
	}
	return all
}
