package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"cogledger/analysis"
	"cogledger/cmd/internal/output"
	"cogledger/cmd/internal/plain"
	"cogledger/ingest"
	"cogledger/ingest/csvlog"
	"cogledger/report"
)

// reviewFlags are what `review` is asked for.
type reviewFlags struct {
	bike    string
	columns string
	join    []string
	manual  bool // offset is given
	offset  float64
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

  # Speed and cadence in one log, volts and amperes in another
  cogledger review ride.fit --join logger.csv --bike bike.yaml

  # Figures for other programs
  cogledger review ride.fit --bike bike.yaml --json - --csv figures/

  # To hand on: without the first and last 500 m and without times of day
  cogledger review ride.fit --bike bike.yaml --privacy`,
		Args:              cobra.MinimumNArgs(1),
		ValidArgsFunction: completeLogs,
		RunE: func(cmd *cobra.Command, paths []string) error {
			f.manual = cmd.Flags().Changed("join-offset")
			return review(cmd.Context(), cmd.OutOrStdout(), cmd.ErrOrStderr(), paths, f)
		},
	}
	s := cmd.Flags()
	s.StringVarP(&f.bike, "bike", "b", "", "bike profile (YAML)")
	s.StringVar(&f.columns, "columns", "", "column map (YAML) for CSV logs with headers of their own")
	s.StringSliceVar(&f.join, "join", nil, "log of the same ride from another device; may be given several times")
	s.Float64Var(&f.offset, "join-offset", 0, "seconds from the ride's start to the second log's, where the match is not clear by itself")
	s.StringVarP(&f.out, "output", "o", "report.html", "the report")
	s.StringVar(&f.json, "json", "", "write the figures as JSON to this file (- for stdout)")
	s.StringVar(&f.csv, "csv", "", "write seconds.csv and segments.csv into this folder")
	s.StringVar(&f.title, "title", "", "title of the report")
	s.StringVar(&f.units, "units", "metric", "metric or imperial")
	s.BoolVar(&f.privacy, "privacy", false, "leave out the first and last 500 m and times of day")
	s.BoolVar(&f.force, "force", false, "overwrite files that are no pages of this program")
	completeFlags(cmd)
	return cmd
}

func review(ctx context.Context, stdout, stderr io.Writer, paths []string, f reviewFlags) error {
	if f.units != "metric" && f.units != "imperial" {
		return usagef("--units %s: write metric or imperial", f.units)
	}
	if f.manual && (len(f.join) != 1 || len(paths) != 1) {
		return usagef("--join-offset goes with one ride and one --join log")
	}
	out, err := f.plan(paths)
	if err != nil {
		return err
	}
	defer out.Discard()
	p, err := readProfile(f.bike)
	if err != nil {
		return err
	}
	o, err := readOptions(f.columns)
	if err != nil {
		return err
	}
	logs := &logReader{options: o, manual: ingest.JoinOptions{Manual: f.manual, OffsetS: f.offset}}
	if err := logs.openSecond(f.join); err != nil {
		return err
	}
	logs.assign(paths)
	bar := newProgress(stderr, len(paths))
	defer bar.clear()
	bad := 0
	results, err := reviewLogs(ctx, paths, p, logs, watch{
		begin:   func(done int, path string) { bar.at(done, readingOf(path)) },
		trouble: func(_ string, err error) { bad++; bar.say("cogledger: %v", err) },
	})
	if err != nil {
		return err
	}
	bar.clear()
	if err := logs.unmatched(); err != nil && len(results) > 0 {
		return err
	}
	if len(results) == 0 {
		return errors.New("no ride could be reviewed; the reasons are above")
	}
	if err := f.write(stdout, out, analysis.Together(results)); err != nil {
		return err
	}
	if bad > 0 {
		return &partialError{bad, len(paths)}
	}
	return nil
}

// plan checks all that will be written, before anything is read.
func (f reviewFlags) plan(paths []string) (*output.Files, error) {
	out := &output.Files{}
	out.Read(paths...)
	out.Read(f.join...)
	out.Read(f.bike, f.columns)
	if err := out.Plan("--output", f.out, output.ReplacingPage(f.force)); err != nil {
		return nil, err
	}
	if err := out.Plan("--json", f.json, output.Replacing(f.force)); err != nil {
		return nil, err
	}
	return out, out.PlanFolder("--csv", f.csv, output.Replacing(f.force), report.CSVNames()...)
}

// write puts out the report, the files asked for, and the summary.
func (f reviewFlags) write(stdout io.Writer, out *output.Files, set *analysis.Set) error {
	o := report.Options{Title: f.title, Imperial: f.units == "imperial", Privacy: f.privacy, Now: time.Now()}
	if err := out.Write(f.out, func(w io.Writer) error { return report.HTML(w, set, o) }); err != nil {
		return err
	}
	if f.csv != "" {
		into := func(name string, fill func(io.Writer) error) error {
			return out.Write(filepath.Join(f.csv, name), fill)
		}
		if err := report.CSV(set, o, into); err != nil {
			return err
		}
	}
	if f.json != "" && f.json != "-" {
		if err := out.Write(f.json, func(w io.Writer) error { return report.JSON(w, set, o) }); err != nil {
			return err
		}
	}
	if err := out.Commit(); err != nil {
		return err
	}
	if f.json == "-" {
		return report.JSON(stdout, set, o)
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
	f, isFile := plain.Under(w).(*os.File)
	return isFile && os.Getenv("NO_COLOR") == "" && term.IsTerminal(int(f.Fd()))
}

// readOptions reads the column map, where one is named.
func readOptions(columns string) (ingest.Options, error) {
	if columns == "" {
		return ingest.Options{}, nil
	}
	f, err := os.Open(columns)
	if err != nil {
		return ingest.Options{}, fmt.Errorf("column map: %w", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, csvlog.MaxMapBytes+1))
	if err != nil {
		return ingest.Options{}, fmt.Errorf("column map: %w", err)
	}
	m, err := csvlog.ParseColumns(data, filepath.Base(columns))
	return ingest.Options{Columns: m}, err
}
