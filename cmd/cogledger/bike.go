package main

import (
	"fmt"
	"io"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"cogledger/analysis/bike"
)

func newBike() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "bike",
		Short: "Write, check, learn and draw bike profiles",
		Args:  cobra.NoArgs,
		RunE:  func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	cmd.AddCommand(newBikeNew(), newBikeCheck(), newBikeLearn(), newBikeCurves())
	return cmd
}

func newBikeNew() *cobra.Command {
	var essentials bike.Essentials
	var out string
	var force bool
	cmd := &cobra.Command{
		Use:   "new",
		Short: "Write a commented bike profile to fill in",
		Example: `  cogledger bike new > bike.yaml
  cogledger bike new --name "Blue cargo" --tyre 50-559 --chainrings 44 --cogs 11,13,15,18,21,24,28,32 --volts 36 --wh 500 -o bike.yaml`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			text, err := bike.Template(essentials)
			if err != nil {
				return &usageError{err}
			}
			write := func(w io.Writer) error { _, err := w.Write(text); return err }
			if out == "" {
				return write(cmd.OutOrStdout())
			}
			return writeFile("--output", out, force, write)
		},
	}
	f := cmd.Flags()
	f.StringVar(&essentials.Name, "name", "", "what to call the bike")
	f.StringVar(&essentials.Tyre, "tyre", "", "ISO 5775 tyre size, like 47-622")
	f.IntSliceVar(&essentials.Chainrings, "chainrings", nil, "teeth of the rings at the crank, like 38 or 34,50")
	f.IntSliceVar(&essentials.Cogs, "cogs", nil, "teeth of the cogs at the wheel, like 11,13,15")
	f.Float64Var(&essentials.NominalV, "volts", 0, "battery's nominal voltage")
	f.Float64Var(&essentials.CapacityWh, "wh", 0, "battery's capacity in watt-hours")
	f.StringVarP(&out, "output", "o", "", "write to this file instead of stdout")
	f.BoolVar(&force, "force", false, "overwrite the file")
	return cmd
}

func newBikeCheck() *cobra.Command {
	return &cobra.Command{
		Use:     "check BIKE.YAML...",
		Short:   "Check bike profiles and list their gears",
		Example: `  cogledger bike check bike.yaml`,
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, paths []string) error {
			bad := 0
			for _, path := range paths {
				p, err := readProfile(path)
				if err != nil {
					bad++
					fmt.Fprintln(cmd.ErrOrStderr(), err)
					continue
				}
				if err := describeBike(cmd.OutOrStdout(), p); err != nil {
					return err
				}
			}
			if bad > 0 {
				return fmt.Errorf("%d of %d profiles cannot be used", bad, len(paths))
			}
			return nil
		},
	}
}

// describeBike prints what a profile comes to: wheel, gears, defaults.
func describeBike(w io.Writer, p *bike.Profile) error {
	fmt.Fprintf(w, "%s: %s drive, wheel %.3f m a turn, %.0f kg in all\n", p.Name, p.Drive.Kind, p.Circumference(), p.Mass.Total())
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "gear\tm a crank turn\tkm/h at 80 rpm\tmotor rpm at 80 rpm")
	for _, g := range p.Gears() {
		development := p.Circumference() * g.Ratio
		kmh := development * 80 * 60 / 1000
		motor := 80 * p.Drive.TurnsPerCrank
		if p.Drive.Kind == bike.Hub {
			motor = 80 * g.Ratio * p.Drive.TurnsPerWheel
		}
		fmt.Fprintf(t, "%s\t%.2f\t%.1f\t%.0f\n", g, development, kmh, motor)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	if len(p.Defaulted) > 0 {
		fmt.Fprintf(w, "%d values are defaults, not of this bike: %v\n", len(p.Defaulted), p.Defaulted)
	}
	return nil
}
