package main

import (
	"context"
	"encoding/json"
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
	"cogledger/ingest/ride"
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
	if err := (&output.Files{}).Plan("demo", filepath.Join(dir, "report.html"), output.ReplacingPage(force)); err != nil {
		return err
	}
	profile := filepath.Join(dir, "bike.yaml")
	if err := writeBytes(profile, bike.ExampleYAML(), force); err != nil {
		return err
	}
	p, err := readProfile(profile)
	if err != nil {
		return err
	}
	var logs, second []string
	for i, r := range made.Week(p, made.Options{Seed: seed}) {
		if err := ctx.Err(); err != nil {
			return err
		}
		base := filepath.Join(dir, fmt.Sprintf("%d-%s", i+1, fileName(r.Name)))
		for k, t := range r.Tracks {
			path, write := base+".fit", fitlog.Write
			if k > 0 {
				path, write = base+"-drive.csv", csvlog.Write
			}
			if err := writeTrack(path, t, write, force); err != nil {
				return err
			}
			if k == 0 {
				logs = append(logs, path)
			} else {
				second = append(second, path)
			}
		}
		truth, err := json.Marshal(r.Truth)
		if err != nil {
			return fmt.Errorf("truth of %s: %w", r.Name, err)
		}
		if err := writeBytes(base+"-truth.json", truth, force); err != nil {
			return err
		}
	}
	fmt.Fprintf(stdout, "%d made rides in %s, for example %s\n\n", len(logs), dir, logs[0])
	return review(ctx, stdout, stderr, logs, reviewFlags{
		bike: profile, join: second, out: filepath.Join(dir, "report.html"), force: force, units: "metric",
		title: "A made week on the " + p.Name,
	})
}

func writeTrack(path string, t *ride.Track, write func(io.Writer, *ride.Track) error, force bool) error {
	return writeFile("demo", path, force, func(w io.Writer) error { return write(w, t) })
}

func writeBytes(path string, data []byte, force bool) error {
	return writeFile("demo", path, force, func(w io.Writer) error { _, err := w.Write(data); return err })
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
