package main

import (
	"fmt"
	"io"

	"cogledger/analysis/gears"
	"cogledger/report"
)

// writeRatios draws what was heard of the gears; no path, no picture.
func writeRatios(stderr io.Writer, path string, found *gears.Learnt, title string) error {
	if path == "" {
		return nil
	}
	err := writeFile(path, true, func(w io.Writer) error { return report.Ratios(w, found, report.Options{Title: title}) })
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(stderr, "picture: %s\n", path)
	return err
}
