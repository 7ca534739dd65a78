// Command cogledger-fleet reviews the rides of fleets that outgrow one machine:
// results in PostgreSQL, logs in buckets, work spread over a queue. It stands
// apart from cogledger so that a rider's program carries no database client and
// no cloud library.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"cogledger/analysis/fleet/store"
	"cogledger/analysis/fleet/store/postgres"
	"cogledger/analysis/fleet/store/sqlite"
	"cogledger/cmd/internal/fleetcmd"
	"cogledger/cmd/internal/fleetqueue"
	"cogledger/cmd/internal/plain"
)

const program = "cogledger-fleet"

func main() {
	ctx, release := plain.Signals()
	defer release()
	os.Exit(run(ctx, os.Stdout, os.Stderr, os.Args[1:]))
}

// Exit codes, those of cogledger. A run stopped by a signal before its end
// ends with 128 and its number.
const (
	exitDone    = 0
	exitFailed  = 1
	exitUsage   = 2
	exitPartial = 3 // done, but some logs were unusable; each was named
)

// run is the whole program behind main; tests call it.
func run(ctx context.Context, stdout, stderr io.Writer, args []string) int {
	stdout, stderr = plain.New(stdout), plain.New(stderr)
	root := newRoot()
	root.SetOut(stdout)
	root.SetErr(stderr)
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return exitDone
	}
	fmt.Fprintf(stderr, "%s: %v\n", program, err)
	var unreadable *fleetcmd.Unreadable
	var stop *plain.Stop
	switch {
	case errors.Is(err, context.Canceled) && errors.As(context.Cause(ctx), &stop):
		return stop.Code()
	case errors.Is(err, fleetcmd.ErrUse):
		return exitUsage
	case errors.As(err, &unreadable):
		return exitPartial
	}
	return exitFailed
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   program,
		Short: "Reviews the rides of large fleets: PostgreSQL, workers on many machines, object storage",
		Example: `  # One machine, results in a database
  cogledger-fleet fleet rides --bikes bikes --store postgres://fleet@db/fleet

  # Many machines: queue what is new in a bucket, work on it, report
  cogledger-fleet enqueue s3://rides/2026/ --store postgres://fleet@db/fleet --every 1m
  cogledger-fleet work --bikes bikes --store postgres://fleet@db/fleet
  cogledger-fleet fleet --store postgres://fleet@db/fleet -o fleet.html`,
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          cobra.NoArgs,
		RunE:          func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return fmt.Errorf("%w: %w; `%s --help` shows the use", fleetcmd.ErrUse, err, cmd.CommandPath())
	})
	root.AddCommand(
		fleetcmd.New(program, "where results are kept: postgres://user@host/database, or a file", openStore),
		fleetqueue.NewEnqueue(program),
		fleetqueue.NewWork(program),
		newVersion(),
	)
	return root
}

// openStore opens a database by its address, and anything else as a file.
func openStore(ctx context.Context, name string, reading bool) (store.Store, error) {
	if postgres.Named(name) {
		return postgres.Open(ctx, name)
	}
	if reading {
		return sqlite.OpenReading(ctx, name)
	}
	return sqlite.Open(ctx, name)
}

func newVersion() *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Print the version",
		Args:  cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			version := "devel"
			if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" && info.Main.Version != "(devel)" {
				version = info.Main.Version
			}
			_, err := fmt.Fprintf(cmd.OutOrStdout(), "%s %s %s/%s %s\n", program, version, runtime.GOOS, runtime.GOARCH, runtime.Version())
			return err
		},
	}
}
