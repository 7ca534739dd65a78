// Command cogledger reviews logged rides on electric-assist bikes: the gear in
// use, how the motor ran in it, where every watt-hour went, and which shifts
// would have helped.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"cogledger/cmd/internal/plain"
)

func main() {
	ctx, release := plain.Signals()
	defer release()
	os.Exit(run(ctx, os.Stdin, os.Stdout, os.Stderr, os.Args[1:]))
}

// Exit codes. A run stopped by a signal ends with 128 and its number, so 130
// after Ctrl-C.
const (
	exitDone    = 0
	exitFailed  = 1
	exitUsage   = 2
	exitPartial = 3 // done, but some inputs were unreadable; each was named
)

// run is the whole program behind main; tests call it.
func run(ctx context.Context, stdin io.Reader, stdout, stderr io.Writer, args []string) int {
	stdout, stderr = plain.New(stdout), plain.New(stderr)
	root := newRoot()
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	var wrong *usageError
	var partial *partialError
	var stop *plain.Stop
	switch {
	case err != nil && errors.Is(err, context.Canceled) && errors.As(context.Cause(ctx), &stop):
		fmt.Fprintf(stderr, "cogledger: stopped; nothing half written is left\n")
		return stop.Code()
	case err == nil:
		return exitDone
	case errors.As(err, &wrong):
		fmt.Fprintf(stderr, "cogledger: %v\n", err)
		return exitUsage
	case errors.As(err, &partial):
		fmt.Fprintf(stderr, "cogledger: %v\n", err)
		return exitPartial
	default:
		fmt.Fprintf(stderr, "cogledger: %v\n", err)
		return exitFailed
	}
}

// A usageError is the caller's mistake on the command line.
type usageError struct{ error }

func (e *usageError) Unwrap() error { return e.error }

func usagef(format string, args ...any) error {
	return &usageError{fmt.Errorf(format, args...)}
}

// A partialError tells that the work was done without some of its inputs.
type partialError struct{ unreadable, inputs int }

func (e *partialError) Error() string {
	return fmt.Sprintf("%d of %d inputs could not be read; they are named above", e.unreadable, e.inputs)
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "cogledger",
		Short: "Reviews rides on electric-assist bikes: gear in use, energy ledger, shifts that would have helped",
		Long: `cogledger reads the logs of rides on an electric-assist bike, works out which
gear was in use, books every watt-hour, and shows where a better gear would
have kept the motor and the legs in their efficient band.`,
		Example: `  # See it work on a week of made rides
  cogledger demo

  # A rider: review last week
  cogledger bike new > bike.yaml
  cogledger review monday.fit tuesday.fit --bike bike.yaml

  # A dealer: what changed since the first visit
  cogledger coach before/*.fit --after after/*.fit --bike bike.yaml

  # What a log can tell
  cogledger inspect ride.fit`,
		SilenceUsage:  true,
		SilenceErrors: true,
		Args:          cobra.NoArgs,
		RunE:          func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return &usageError{fmt.Errorf("%w; `%s --help` shows the use", err, cmd.CommandPath())}
	})
	root.AddCommand(
		newReview(),
		newReplay(),
		newCoach(),
		newServe(),
		newBike(),
		newInspect(),
		newFleet(),
		newDemo(),
		newMan(),
		newVersion(),
	)
	wrapArgs(root)
	return root
}

// wrapArgs turns each command's complaint about its arguments into wrong use.
func wrapArgs(cmd *cobra.Command) {
	if check := cmd.Args; check != nil {
		cmd.Args = func(c *cobra.Command, args []string) error {
			if err := check(c, args); err != nil {
				return &usageError{fmt.Errorf("%w; `%s --help` shows the use", err, c.CommandPath())}
			}
			return nil
		}
	}
	for _, sub := range cmd.Commands() {
		wrapArgs(sub)
	}
}
