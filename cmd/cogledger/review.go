package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/ingest"
	"cogledger/ingest/csvlog"
	"cogledger/ingest/ride"
	"cogledger/report"
)

// reviewFlags are what `review` is asked for.
type reviewFlags struct {
	bike    string
	columns string
	out     string
	json    string
	csv     string
	title   string
	units   string
	privacy bool
	force   bool
}

func newReview() *cobra.Command {
	var f reviewFlags
	cmd := &cobra.Command{
		Use:   "review RIDE...",
		Short: "Review rides: gears, ledger, shifts that would have helped",
		Long: `review reads the logs of one or several rides of one bike (FIT, GPX, TCX or CSV,
plain, gzipped or zipped), prints a summary and writes one HTML file that needs
no network.`,
		Example: `  # A week
  cogledger review mon.fit tue.fit wed.gpx --bike bike.yaml -o week.html

  # Figures for other programs
  cogledger review ride.fit --bike bike.yaml --json - --csv figures/

  # To hand on: without the first and last 500 m and without times of day
  cogledger review ride.fit --bike bike.yaml --privacy`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, paths []string) error {
			return review(cmd.Context(), cmd.OutOrStdout(), cmd.ErrOrStderr(), paths, f)
		},
	}
	s := cmd.Flags()
	s.StringVarP(&f.bike, "bike", "b", "", "bike profile (YAML)")
	s.StringVar(&f.columns, "columns", "", "column map (YAML) for CSV logs with headers of their own")
	s.StringVarP(&f.out, "output", "o", "report.html", "the report")
	s.StringVar(&f.json, "json", "", "write the figures as JSON to this file (- for stdout)")
	s.StringVar(&f.csv, "csv", "", "write seconds.csv and segments.csv into this folder")
	s.StringVar(&f.title, "title", "", "title of the report")
	s.StringVar(&f.units, "units", "metric", "metric or imperial")
	s.BoolVar(&f.privacy, "privacy", false, "leave out the first and last 500 m and times of day")
	s.BoolVar(&f.force, "force", false, "overwrite JSON and CSV files")
	return cmd
}

func review(ctx context.Context, stdout, stderr io.Writer, paths []string, f reviewFlags) error {
	if f.units != "metric" && f.units != "imperial" {
		return usagef("--units %s: write metric or imperial", f.units)
	}
	p, err := readProfile(f.bike)
	if err != nil {
		return err
	}
	rides, unreadable, err := f.read(ctx, stderr, paths)
	if err != nil {
		return err
	}
	set, failed, err := reviewAll(ctx, stderr, rides, p)
	if err != nil {
		return err
	}
	if err := f.write(stdout, set); err != nil {
		return err
	}
	if bad := unreadable + failed; bad > 0 {
		return &partialError{bad, len(paths)}
	}
	return nil
}

func (f reviewFlags) read(ctx context.Context, stderr io.Writer, paths []string) ([]*ride.Ride, int, error) {
	o, err := readOptions(f.columns)
	if err != nil {
		return nil, 0, err
	}
	return readRides(ctx, stderr, paths, o)
}

// reviewAll analyses rides of one bike. A ride that cannot be analysed is named
// on stderr and counted.
func reviewAll(ctx context.Context, stderr io.Writer, rides []*ride.Ride, p *bike.Profile) (*analysis.Set, int, error) {
	var results []*analysis.Result
	failed := 0
	for _, r := range rides {
		if err := ctx.Err(); err != nil {
			return nil, failed, err
		}
		res, err := analysis.Review(r, p, analysis.Options{})
		if err != nil {
			failed++
			fmt.Fprintf(stderr, "cogledger: %v\n", err)
			continue
		}
		results = append(results, res)
	}
	if len(results) == 0 {
		return nil, failed, fmt.Errorf("no ride could be reviewed")
	}
	return analysis.Together(results), failed, nil
}

// write puts out the report, the files asked for, and the summary.
func (f reviewFlags) write(stdout io.Writer, set *analysis.Set) error {
	o := report.Options{Title: f.title, Imperial: f.units == "imperial", Privacy: f.privacy, Now: time.Now()}
	if err := writeFile(f.out, true, func(w io.Writer) error { return report.HTML(w, set, o) }); err != nil {
		return err
	}
	if f.csv != "" {
		if err := report.CSV(f.csv, set, o, f.force); err != nil {
			return err
		}
	}
	if f.json == "-" {
		return report.JSON(stdout, set, o)
	}
	if f.json != "" {
		if err := writeFile(f.json, f.force, func(w io.Writer) error { return report.JSON(w, set, o) }); err != nil {
			return err
		}
	}
	o.Colour = colourful(stdout)
	if err := report.Summary(stdout, set, o); err != nil {
		return err
	}
	_, err := fmt.Fprintf(stdout, "\nreport: %s\n", f.out)
	return err
}

// colourful reports whether w is a terminal whose user has not asked for plain text.
func colourful(w io.Writer) bool {
	f, isFile := w.(*os.File)
	return isFile && os.Getenv("NO_COLOR") == "" && term.IsTerminal(int(f.Fd()))
}

// readOptions reads the column map, where one is named.
func readOptions(columns string) (ingest.Options, error) {
	if columns == "" {
		return ingest.Options{}, nil
	}
	data, err := os.ReadFile(columns)
	if err != nil {
		return ingest.Options{}, fmt.Errorf("column map: %w", err)
	}
	m, err := csvlog.ParseColumns(data, filepath.Base(columns))
	return ingest.Options{Columns: m}, err
}
