package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"cogledger/cmd/internal/output"
	"cogledger/report"
)

func newBikeCurves() *cobra.Command {
	var out, table, units string
	var force bool
	cmd := &cobra.Command{
		Use:   "curves BIKE.YAML",
		Short: "Draw a bike's efficiency, pull and launch",
		Long: `curves draws a bike's drive from its profile: efficiency against motor speed at
several powers with the efficient band shaded, efficiency over speed and torque,
the pull at the wheel in each gear against a hub motor and against what roads of
several grades ask, and starts from a stand.`,
		Example: `  cogledger bike curves bike.yaml
  cogledger bike curves bike.yaml -o curves.html --csv curves.csv`,
		Args: cobra.ExactArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			if units != "metric" && units != "imperial" {
				return usagef("--units %s: write metric or imperial", units)
			}
			files := &output.Files{}
			defer files.Discard()
			files.Read(args[0])
			if err := files.Plan("--output", out, output.ReplacingPage(force)); err != nil {
				return err
			}
			if err := files.Plan("--csv", table, output.Replacing(force)); err != nil {
				return err
			}
			p, err := readProfile(args[0])
			if err != nil {
				return err
			}
			o := report.Options{Imperial: units == "imperial"}
			if err := files.Write(out, func(w io.Writer) error { return report.Curves(w, p, o) }); err != nil {
				return err
			}
			if table != "" {
				if err := files.Write(table, func(w io.Writer) error { return report.CurvesCSV(w, p) }); err != nil {
					return err
				}
			}
			if err := files.Commit(); err != nil {
				return err
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "curves: %s\n", out)
			return err
		},
	}
	s := cmd.Flags()
	s.StringVarP(&out, "output", "o", "curves.html", "the page")
	s.StringVar(&table, "csv", "", "write the points of the curves to this file")
	s.StringVar(&units, "units", "metric", "metric or imperial")
	s.BoolVar(&force, "force", false, "overwrite files that are no pages of this program")
	completeFlags(cmd)
	return cmd
}
