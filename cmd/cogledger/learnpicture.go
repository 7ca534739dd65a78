package main

import (
	"fmt"
	"io"

	"cogledger/analysis/gears"
	"cogledger/cmd/internal/output"
	"cogledger/report"
)

// writeRatios draws what was heard of the gears; no path, no picture.
func writeRatios(stderr io.Writer, out *output.Files, path string, found *gears.Learnt, title string) error {
	if path == "" {
		return nil
	}
	err := out.Write(path, func(w io.Writer) error { return report.Ratios(w, found, report.Options{Title: title}) })
	if err != nil {
		return err
	}
	if err := out.Put(path); err != nil { // the picture shows why there is no profile
		return err
	}
	_, err = fmt.Fprintf(stderr, "picture: %s\n", path)
	return err
}
