package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"cogledger/analysis/bike"
	"cogledger/analysis/made"
	"cogledger/cmd/internal/fleetmade"
	"cogledger/cmd/internal/output"
	"cogledger/ingest/csvlog"
	"cogledger/ingest/fitlog"
)

func newDemo() *cobra.Command {
	var seed uint64
	var force bool
	var rides, bikes int
	cmd := &cobra.Command{
		Use:   "demo [DIR]",
		Short: "Make a week of rides by simulation, review them, write DIR/report.html",
		Long: `demo makes a bike profile and a week of rides by forward simulation, writes them
as FIT and CSV files labelled as made, with the simulation's truth beside them,
and reviews them as review would. DIR is "demo" unless given.

With --rides or --bikes it makes a fleet instead, for cogledger fleet: profiles
and a map in DIR/bikes, logs in DIR/rides. Three batteries, five riders and two
ramps in it are worth finding; it says which.`,
		Example: `  cogledger demo
  cogledger demo /tmp/try --seed 7

  # A fleet, and a report on it
  cogledger demo /tmp/fleet --rides 400 --bikes 20
  cogledger fleet /tmp/fleet/rides --bikes /tmp/fleet/bikes --store /tmp/fleet/fleet.sqlite`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := "demo"
			if len(args) == 1 {
				dir = args[0]
			}
			if cmd.Flags().Changed("rides") || cmd.Flags().Changed("bikes") {
				return demoFleet(cmd.Context(), cmd.OutOrStdout(), cmd.ErrOrStderr(), dir, fleetmade.Options{Rides: rides, Bikes: bikes, Seed: seed}, force)
			}
			return demo(cmd.Context(), cmd.OutOrStdout(), cmd.ErrOrStderr(), dir, seed, force)
		},
	}
	cmd.Flags().Uint64Var(&seed, "seed", 1, "another seed, another week")
	cmd.Flags().BoolVar(&force, "force", false, "overwrite the files of an earlier demo")
	cmd.Flags().IntVar(&rides, "rides", 100, "make a fleet with so many rides of some 20 minutes")
	cmd.Flags().IntVar(&bikes, "bikes", 20, "and so many bikes")
	return cmd
}

// demo writes the made week and reviews it from its files, as a user would.
func demo(ctx context.Context, stdout, stderr io.Writer, dir string, seed uint64, force bool) error {
	profile, page := filepath.Join(dir, "bike.yaml"), filepath.Join(dir, "report.html")
	if err := (&output.Files{}).Plan("demo", page, output.ReplacingPage(force)); err != nil {
		return err
	}
	logs, second, err := demoWeek(ctx, dir, profile, seed, force)
	if err != nil {
		return err
	}
	fmt.Fprintf(stdout, "%d made rides in %s, for example %s\n\n", len(logs), dir, logs[0])
	return review(ctx, stdout, stderr, logs, reviewFlags{
		bike: profile, join: second, out: page, force: force, units: "metric",
		title: "A made week on the " + bike.Example().Name,
	})
}

// A demoFile is one file of a demo.
type demoFile struct {
	path string
	fill func(io.Writer) error
}

// demoWeek writes the profile, the logs and the truth of a made week, all or
// none of them.
func demoWeek(ctx context.Context, dir, profile string, seed uint64, force bool) (logs, second []string, err error) {
	files := []demoFile{{profile, bytesOf(bike.ExampleYAML())}}
	for i, r := range made.Week(bike.Example(), made.Options{Seed: seed}) {
		base := filepath.Join(dir, fmt.Sprintf("%d-%s", i+1, fileName(r.Name)))
		for k, t := range r.Tracks {
			if k == 0 {
				logs = append(logs, base+".fit")
				files = append(files, demoFile{base + ".fit", func(w io.Writer) error { return fitlog.Write(w, t) }})
			} else {
				second = append(second, base+"-drive.csv")
				files = append(files, demoFile{base + "-drive.csv", func(w io.Writer) error { return csvlog.Write(w, t) }})
			}
		}
		truth, err := json.Marshal(r.Truth)
		if err != nil {
			return nil, nil, fmt.Errorf("truth of %s: %w", r.Name, err)
		}
		files = append(files, demoFile{base + "-truth.json", bytesOf(truth)})
	}
	out := &output.Files{}
	defer out.Discard()
	right := output.Nothing
	if force {
		right = output.Profiles
	}
	for _, f := range files {
		if err := out.Plan("demo", f.path, right); err != nil {
			return nil, nil, err
		}
	}
	for _, f := range files {
		if err := errors.Join(ctx.Err(), out.Write(f.path, f.fill)); err != nil {
			return nil, nil, err
		}
	}
	return logs, second, out.Commit()
}

func bytesOf(data []byte) func(io.Writer) error {
	return func(w io.Writer) error { _, err := w.Write(data); return err }
}

// fileName makes a file's name of a ride's: its first words, in plain letters.
func fileName(name string) string {
	name, _, _ = strings.Cut(strings.ToLower(name), " (")
	return strings.Trim(strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			return r
		case r == ' ':
			return '-'
		}
		return -1
	}, name), "-")
}
