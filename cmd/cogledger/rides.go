package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"cogledger/ingest"
	"cogledger/ingest/ride"
)

// readRides reads every log named. A log that cannot be read is named on
// stderr and left out; unreadable counts them. It fails only where none could
// be read.
func readRides(ctx context.Context, stderr io.Writer, paths []string, o ingest.Options) (rides []*ride.Ride, unreadable int, err error) {
	for _, path := range paths {
		if err := ctx.Err(); err != nil {
			return nil, unreadable, err
		}
		found, err := readLog(path, o)
		if err != nil {
			unreadable++
			fmt.Fprintf(stderr, "cogledger: %v\n", err)
			continue
		}
		rides = append(rides, found...)
	}
	if len(rides) == 0 {
		return nil, unreadable, errors.New("no ride could be read")
	}
	return rides, unreadable, nil
}

// readLog reads the rides in one file.
func readLog(path string, o ingest.Options) ([]*ride.Ride, error) {
	tracks, err := ingest.Open(path, o)
	if err != nil {
		return nil, err
	}
	var rides []*ride.Ride
	var failed error
	for _, t := range tracks {
		r, err := t.Ride()
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
