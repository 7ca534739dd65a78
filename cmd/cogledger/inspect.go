package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"cogledger/analysis"
	"cogledger/ingest"
)

func newInspect() *cobra.Command {
	var columns string
	cmd := &cobra.Command{
		Use:   "inspect LOG...",
		Short: "Show what a log holds and what can be told from it",
		Example: `  cogledger inspect ride.fit
  cogledger inspect logger.csv --columns logger.yaml`,
		Args:              cobra.MinimumNArgs(1),
		ValidArgsFunction: completeLogs,
		RunE: func(cmd *cobra.Command, paths []string) error {
			o, err := readOptions(columns)
			if err != nil {
				return err
			}
			bad := 0
			for _, path := range paths {
				if err := inspect(cmd.OutOrStdout(), path, o); err != nil {
					bad++
					fmt.Fprintf(cmd.ErrOrStderr(), "cogledger: %v\n", err)
				}
			}
			switch {
			case bad == len(paths):
				return fmt.Errorf("no log could be read")
			case bad > 0:
				return &partialError{bad, len(paths)}
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&columns, "columns", "", "column map (YAML) for CSV logs with headers of their own")
	completeFlags(cmd)
	return cmd
}

func inspect(w io.Writer, path string, o ingest.Options) error {
	tracks, err := ingest.Open(path, o)
	if err != nil {
		return err
	}
	for _, t := range tracks {
		found, err := ingest.Inspect(t)
		if err != nil {
			return err
		}
		if err := found.Write(w); err != nil {
			return err
		}
		r, err := t.Ride()
		if err != nil {
			return err
		}
		if err := analysis.WriteTellings(w, analysis.Tell(r)); err != nil {
			return err
		}
	}
	return nil
}
