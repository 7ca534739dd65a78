package main

import (
	"context"
	"fmt"
	"path/filepath"

	"cogledger/analysis"
	"cogledger/analysis/bike"
)

// A watch follows logs being reviewed.
type watch struct {
	begin   func(done int, path string)
	trouble func(path string, err error) // a log, or a ride in it, cannot be used
}

// reviewLogs reads and reviews logs one after the other. It fails only when ctx
// ends; what cannot be used is told to the watch and left out.
func reviewLogs(ctx context.Context, paths []string, p *bike.Profile, l *logReader, w watch) ([]*analysis.Result, error) {
	var results []*analysis.Result
	for done, path := range paths {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		w.begin(done, path)
		rides, err := l.rides(path)
		if err != nil {
			w.trouble(path, err)
			continue
		}
		for _, r := range rides {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			res, err := analysis.Review(r, p, analysis.Options{})
			if err != nil {
				w.trouble(path, err)
				continue
			}
			results = append(results, res)
		}
	}
	return results, nil
}

// rideCount words how many rides there are.
func rideCount(n int) string {
	if n == 1 {
		return "1 ride"
	}
	return fmt.Sprintf("%d rides", n)
}

// readingOf says what is being done to a file.
func readingOf(path string) string { return "reviewing " + filepath.Base(path) }
