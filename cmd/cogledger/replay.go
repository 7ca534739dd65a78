package main

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/jedib0t/go-pretty/v6/table"
	"github.com/spf13/cobra"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/replay"
	"cogledger/cmd/internal/output"
	"cogledger/report"
)

// replayFlags are what `replay` is asked for.
type replayFlags struct {
	bike    string
	with    []string
	columns string
	out     string
	json    string
	force   bool
}

func newReplay() *cobra.Command {
	var f replayFlags
	cmd := &cobra.Command{
		Use:   "replay RIDE",
		Short: "Ride the same ride on other drives",
		Long: `replay asks what the same ride, at the same speed and with the same legs, would
have taken out of the battery in each single gear, shifted as planned, with the
same motor in the hub, with other rings and cassettes, and on the bikes named
with --with.`,
		Example: `  cogledger replay ride.fit --bike bike.yaml
  cogledger replay ride.fit --bike bike.yaml --with cargo.yaml --with hub.yaml -o compare.html`,
		Args:              cobra.ExactArgs(1),
		ValidArgsFunction: completeLogs,
		RunE: func(cmd *cobra.Command, args []string) error {
			return replayRide(cmd.Context(), cmd.OutOrStdout(), args[0], f)
		},
	}
	s := cmd.Flags()
	s.StringVarP(&f.bike, "bike", "b", "", "bike profile (YAML) of the ride")
	s.StringSliceVar(&f.with, "with", nil, "profiles of other bikes")
	s.StringVar(&f.columns, "columns", "", "column map (YAML) for CSV logs with headers of their own")
	s.StringVarP(&f.out, "output", "o", "", "write the whole report to this file")
	s.StringVar(&f.json, "json", "", "write the figures as JSON to this file (- for stdout)")
	s.BoolVar(&f.force, "force", false, "overwrite files that are no pages of this program")
	completeFlags(cmd)
	return cmd
}

func replayRide(ctx context.Context, stdout io.Writer, path string, f replayFlags) error {
	out := &output.Files{}
	defer out.Discard()
	out.Read(path, f.bike, f.columns)
	out.Read(f.with...)
	if err := out.Plan("--output", f.out, output.ReplacingPage(f.force)); err != nil {
		return err
	}
	if err := out.Plan("--json", f.json, output.Replacing(f.force)); err != nil {
		return err
	}
	p, err := readProfile(f.bike)
	if err != nil {
		return err
	}
	var others []*bike.Profile
	for _, name := range f.with {
		other, err := readProfile(name)
		if err != nil {
			return err
		}
		if guessed := other.GuessedMotor(); other.Drive.Kind == bike.Hub && len(guessed) > 0 {
			return fmt.Errorf("%s: no default stands for the motor in a wheel; write %s into it, from its data sheet or a bench test", name, strings.Join(guessed, ", "))
		}
		others = append(others, other)
	}
	o, err := readOptions(f.columns)
	if err != nil {
		return err
	}
	rides, err := (&logReader{options: o}).rides(path)
	if err != nil {
		return err
	}
	var results []*analysis.Result
	for _, r := range rides {
		if err := ctx.Err(); err != nil {
			return err
		}
		res, err := analysis.Review(r, p, analysis.Options{Others: others})
		if err != nil {
			return err
		}
		results = append(results, res)
	}
	set, ro := analysis.Together(results), report.Options{Now: time.Now()}
	if f.out != "" {
		if err := out.Write(f.out, func(w io.Writer) error { return report.HTML(w, set, ro) }); err != nil {
			return err
		}
	}
	if f.json != "" && f.json != "-" {
		if err := out.Write(f.json, func(w io.Writer) error { return report.JSON(w, set, ro) }); err != nil {
			return err
		}
	}
	if err := out.Commit(); err != nil {
		return err
	}
	if f.json == "-" {
		return report.JSON(stdout, set, ro)
	}
	for _, res := range set.Rides {
		if err := printReplays(stdout, res); err != nil {
			return err
		}
	}
	return nil
}

// printReplays shows the ride on every drive, one line each.
func printReplays(w io.Writer, res *analysis.Result) error {
	t := table.NewWriter()
	t.SetStyle(table.StyleLight)
	t.AppendHeader(table.Row{"drive", "battery Wh", "winding Wh", "hottest °C", "speed held", "longer by"})
	for _, x := range res.Replays {
		t.AppendRow(replayRow(x))
	}
	if _, err := fmt.Fprintf(w, "%s\n%s\n", res.Ride.Name, t.Render()); err != nil {
		return err
	}
	if len(res.Fittings) == 0 {
		return nil
	}
	worth := res.WorthFittings()
	if len(worth) == 0 {
		_, err := fmt.Fprintln(w, "No ring or cassette of the sizes on sale would have done noticeably better: under 1 % apart is the same.")
		return err
	}
	t = table.NewWriter()
	t.SetStyle(table.StyleLight)
	t.AppendHeader(table.Row{"fitted", "battery Wh", "saves Wh", "speed held", "legs out of band"})
	for _, x := range append([]replay.Fitting{res.Fittings[0]}, worth...) {
		t.AppendRow(table.Row{x.Name, number("%.1f", x.BatteryWh), number("%.2f", x.SavingWh), percent(x.HeldShare), percent(x.LegsOut)})
	}
	_, err := fmt.Fprintf(w, "Rings and cassettes that would have done better. All are ridden in the best gear of each second, what is fitted too: so it takes less than as ridden.\n%s\n", t.Render())
	return err
}

func replayRow(x replay.Outcome) table.Row {
	longer := "-"
	if x.LongerS >= 1 {
		longer = (time.Duration(x.LongerS) * time.Second).String()
	}
	return table.Row{x.Name, number("%.1f", x.BatteryWh), number("%.1f", x.CopperWh), number("%.0f", x.WindingPeakC), percent(x.FeasibleShare), longer}
}

// number prints a figure, or that it is not known.
func number(format string, v float64) string {
	if v != v {
		return "not known"
	}
	return fmt.Sprintf(format, v)
}

func percent(share float64) string { return number("%.0f %%", 100*share) }
