package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"cogledger/analysis"
	"cogledger/analysis/trend"
	"cogledger/cmd/internal/output"
	"cogledger/report/coach"
)

// coachFlags are what `coach` is asked for.
type coachFlags struct {
	bike    string
	columns string
	after   afterFlag
	out     string
	paper   string
	units   string
	seed    uint64
	force   bool
}

func newCoach() *cobra.Command {
	f := coachFlags{}
	cmd := &cobra.Command{
		Use:   "coach RIDE... [--after RIDE...]",
		Short: "Print one page for the rider: what to do, and what has changed",
		Long: `coach writes one page to print: what to do on the next rides, in the rider's own
numbers, with room for the dealer's notes.

With --after it sets the rides named after it against those named before it and
says for each figure whether it has improved, has not changed or is worse, and
only where the rides carry it: intervals are drawn by whole rides from a fixed
seed, and hills, load and assist are allowed for. Four rides or more on each
side can tell something.

Open the page in a browser to print it or to save it as PDF.`,
		Example: `  # A new owner: one page from the first rides
  cogledger coach first/*.fit --bike bike.yaml

  # A dealer: what has changed since the first visit, on US paper
  cogledger coach before/*.fit --after after/*.fit --bike bike.yaml --paper letter -o visit-2.html

  # A rider: this week against last
  cogledger coach last-week/*.gpx --bike bike.yaml --after this-week/*.gpx

  # An operator: the effect of a training, in figures to print at the depot
  cogledger coach may/*.csv --after june/*.csv --bike fleet-bike.yaml --columns logger.yaml`,
		Args:              cobra.ArbitraryArgs, // --after takes some of them
		ValidArgsFunction: completeLogs,
		RunE: func(cmd *cobra.Command, paths []string) error {
			before, after := f.after.split(paths)
			if len(before) == 0 {
				return usagef("name the rides before --after, like `%s before/*.fit --after after/*.fit`", cmd.CommandPath())
			}
			return coachPage(cmd.Context(), cmd.OutOrStdout(), cmd.ErrOrStderr(), before, after, f)
		},
	}
	s := cmd.Flags()
	f.after.flags = s
	s.StringVarP(&f.bike, "bike", "b", "", "bike profile (YAML)")
	s.StringVar(&f.columns, "columns", "", "column map (YAML) for CSV logs with headers of their own")
	s.Var(&f.after, "after", "later rides to compare with: this and all logs named after it")
	s.StringVarP(&f.out, "output", "o", "coach.html", "the page")
	s.StringVar(&f.paper, "paper", "a4", "a4 or letter")
	s.StringVar(&f.units, "units", "metric", "metric or imperial")
	s.BoolVar(&f.force, "force", false, "overwrite a file that is no page of this program")
	s.Uint64Var(&f.seed, "seed", 0, "of the draws behind the intervals")
	completeFlags(cmd)
	return cmd
}

// An afterFlag takes a log and all arguments after it, so that
// `--after this-week/*.fit` works with the shell's own expansion.
type afterFlag struct {
	flags *pflag.FlagSet
	first []string
	from  int // arguments that were read before the flag
}

func (a *afterFlag) String() string { return "" }
func (a *afterFlag) Type() string   { return "RIDE..." }

func (a *afterFlag) Set(path string) error {
	if len(a.first) == 0 {
		a.from = a.flags.NArg()
	}
	a.first = append(a.first, path)
	return nil
}

func (a *afterFlag) split(args []string) (before, after []string) {
	if len(a.first) == 0 {
		return args, nil
	}
	return args[:a.from], append(a.first, args[a.from:]...)
}

func coachPage(ctx context.Context, stdout, stderr io.Writer, before, after []string, f coachFlags) error {
	if f.units != "metric" && f.units != "imperial" {
		return usagef("--units %s: write metric or imperial", f.units)
	}
	paper, err := coach.ParsePaper(f.paper)
	if err != nil {
		return &usageError{err}
	}
	out := &output.Files{}
	defer out.Discard()
	out.Read(before...)
	out.Read(after...)
	out.Read(f.bike, f.columns)
	if err := out.Plan("--output", f.out, output.ReplacingPage(f.force)); err != nil {
		return err
	}
	p, err := readProfile(f.bike)
	if err != nil {
		return err
	}
	o, err := readOptions(f.columns)
	if err != nil {
		return err
	}
	logs := &logReader{options: o}
	bar := newProgress(stderr, len(before)+len(after))
	defer bar.clear()
	bad := 0
	gone := 0 // logs of the group before
	w := watch{
		begin:   func(done int, path string) { bar.at(gone+done, readingOf(path)) },
		trouble: func(_ string, err error) { bad++; bar.say("cogledger: %v", err) },
	}
	earlier, err := reviewLogs(ctx, before, p, logs, w)
	if err != nil {
		return err
	}
	gone = len(before)
	later, err := reviewLogs(ctx, after, p, logs, w)
	if err != nil {
		return err
	}
	bar.clear()
	if len(earlier) == 0 || len(after) > 0 && len(later) == 0 {
		return errors.New("no ride could be reviewed on one side; the reasons are above")
	}
	set, change := lessonOf(earlier, later, f.seed)
	page := coach.Options{Paper: paper, Imperial: f.units == "imperial", Now: time.Now()}
	if err := out.Write(f.out, func(w io.Writer) error { return coach.HTML(w, set, change, page) }); err != nil {
		return err
	}
	if err := out.Commit(); err != nil {
		return err
	}
	if err := printChange(stdout, change); err != nil {
		return err
	}
	if _, err := fmt.Fprintf(stdout, "page from %s: %s\n", rideCount(len(set.Rides)), f.out); err != nil {
		return err
	}
	if bad > 0 {
		return &partialError{bad, len(before) + len(after)}
	}
	return nil
}

// lessonOf picks the rides to learn from, the later ones where there are two
// groups, and what has changed between the groups.
func lessonOf(earlier, later []*analysis.Result, seed uint64) (*analysis.Set, *trend.Comparison) {
	if len(later) == 0 {
		return analysis.Together(earlier), nil
	}
	c := analysis.Compare(earlier, later, trend.Options{Seed: seed})
	return analysis.Together(later), &c
}

// printChange writes the findings for the terminal.
func printChange(w io.Writer, c *trend.Comparison) error {
	if c == nil {
		return nil
	}
	for _, ch := range c.Changes {
		if _, err := fmt.Fprintf(w, "%-36s %s\n", ch.Key, finding(ch)); err != nil {
			return err
		}
	}
	for _, n := range c.Notes {
		if _, err := fmt.Fprintf(w, "note: %s\n", n); err != nil {
			return err
		}
	}
	return nil
}

func finding(ch trend.Change) string {
	factor, unit := 1.0, " "+ch.Unit
	if ch.Unit == "share" {
		factor, unit = 100, " %"
	}
	b, a, d := ch.Before, ch.After, ch.Difference
	return fmt.Sprintf("%.3g -> %.3g%s, difference %+.3g (%+.3g to %+.3g): %s",
		factor*b.Value, factor*a.Value, unit, factor*d.Value, factor*d.Low, factor*d.High, ch.Verdict)
}
