package main

import (
	"context"
	"errors"
	"strings"

	"github.com/spf13/cobra"

	"cogledger/analysis/fleet/store"
	"cogledger/analysis/fleet/store/sqlite"
	"cogledger/cmd/internal/fleetcmd"
)

func newFleet() *cobra.Command {
	cmd := fleetcmd.New("cogledger", "file that keeps the results, made where there is none", openStore)
	fleet := cmd.RunE
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		err := fleet(cmd, args)
		var unreadable *fleetcmd.Unreadable
		switch {
		case errors.As(err, &unreadable):
			return &partialError{unreadable.Bad, unreadable.Logs}
		case errors.Is(err, fleetcmd.ErrUse):
			return &usageError{err}
		}
		return err
	}
	return cmd
}

// openStore opens a store on this machine.
func openStore(ctx context.Context, name string, reading bool) (store.Store, error) {
	if strings.Contains(name, "://") {
		return nil, usagef("--store %s: this program keeps results in a file; cogledger-fleet keeps them in PostgreSQL", name)
	}
	if reading {
		return sqlite.OpenReading(ctx, name)
	}
	return sqlite.Open(ctx, name)
}
