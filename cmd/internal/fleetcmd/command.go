// Package fleetcmd is the command that both binaries offer for fleets: flags,
// progress, and what is printed and written in the end.
package fleetcmd

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
	"cogledger/cmd/internal/fleetrun"
	"cogledger/cmd/internal/output"
	fleetreport "cogledger/report/fleet"
)

// ErrUse marks mistakes on the command line.
var ErrUse = errors.New("wrong use")

// Unreadable tells that the work was done without some of the logs; each was
// named.
type Unreadable struct{ Bad, Logs int }

func (u *Unreadable) Error() string {
	return fmt.Sprintf("%d of %d logs could not be used; they are named above", u.Bad, u.Logs)
}

// Open opens a store by the name that --store gives; reading means that nothing
// will be written to it.
type Open func(ctx context.Context, name string, reading bool) (store.Store, error)

// flags are what the command is asked for.
type flags struct {
	bikes, table, store string
	out, parquet, csv   string
	jobs, maxMB         int
	maxTime             time.Duration
	retry, force        bool
	private             bool
	least               int
	monthly             bool
	forget, before      string
}

// New is the command. Program is the binary's name, stores says what --store
// takes.
func New(program, stores string, open Open) *cobra.Command {
	var f flags
	cmd := &cobra.Command{
		Use:   "fleet [DIR...]",
		Short: "Review the rides of many bikes, and report on the fleet",
		Long: `fleet finds the logs in folders (FIT, GPX, TCX and CSV, gzipped and zipped too),
tells whose each is, reviews what is new, keeps the results in a store and
writes one page on the whole fleet. Without DIR it reports on what the store
holds.

Whose a log is: the map (--map, or fleet.csv among the profiles) says it by
file, by folder or by the device's serial number; else a folder called like a
bike profile does; else default.yaml stands for all others. The map's columns
are bike, profile, rider, group, file, folder, serial, from and to; only bike
is needed.

A second run does only what is new. It may be stopped with Ctrl-C, or killed,
at any moment, and goes on where it was.

Riders are people. By default the page and the exports show pseudonyms, leave
out what is about fewer than five, and tell no times of day and no places near
the ends of a ride. Before you look at single riders, ask whoever must agree:
works councils have a say in such data in many countries, and data-protection
law asks for a purpose, a time after which it is deleted, and that riders know.
--forget deletes what the store holds of one rider.`,
		Example: fmt.Sprintf(`  # One profile for each bike: bikes/bike-17.yaml, rides in rides/bike-17/
  %[1]s fleet rides --bikes bikes --store fleet.sqlite

  # Every night; then the report alone, for the workshop and by name
  %[1]s fleet rides --bikes bikes --store fleet.sqlite -o fleet.html
  %[1]s fleet --store fleet.sqlite --privacy=false -o workshop.html

  # For other programs
  %[1]s fleet --store fleet.sqlite --parquet lake/ --csv tables/`, program),
		RunE: func(cmd *cobra.Command, roots []string) error {
			return run(cmd.Context(), cmd.OutOrStdout(), cmd.ErrOrStderr(), roots, f, open)
		},
	}
	s := cmd.Flags()
	s.StringVar(&f.bikes, "bikes", "", "folder of bike profiles (YAML)")
	s.StringVar(&f.table, "map", "", "CSV that tells whose each log is (default fleet.csv in the folder of profiles, where there is one)")
	s.StringVar(&f.store, "store", "", stores)
	s.StringVarP(&f.out, "output", "o", "fleet.html", "the page on the fleet; empty for none")
	s.StringVar(&f.parquet, "parquet", "", "write rides, habits and segments as Parquet into this folder")
	s.StringVar(&f.csv, "csv", "", "write rides, habits and segments as CSV into this folder")
	s.IntVarP(&f.jobs, "jobs", "j", 0, "logs in work at once (default one a processor)")
	s.IntVar(&f.maxMB, "max-mb", 64, "largest log, unpacked, in MB")
	s.DurationVar(&f.maxTime, "max-time", time.Minute, "longest time for one log")
	s.BoolVar(&f.retry, "retry", false, "try logs again that could not be used before")
	s.BoolVar(&f.private, "privacy", true, "pseudonyms, least group sizes, no times of day and no ends of rides")
	s.IntVar(&f.least, "least", fleet.LeastGroup, "with privacy: least number of bikes, and of riders, behind a group or a place")
	s.BoolVar(&f.monthly, "monthly", false, "trend by month, not by week")
	s.StringVar(&f.forget, "forget", "", "delete what the store holds of a rider, by the name that the map has, and do nothing else")
	s.StringVar(&f.before, "forget-before", "", "delete what the store holds of rides that began before a day (2026-01-31, UTC), and do nothing else")
	s.BoolVar(&f.force, "force", false, "replace earlier exports")
	return cmd
}

func run(ctx context.Context, stdout, stderr io.Writer, roots []string, f flags, open Open) (err error) {
	if err := f.check(roots); err != nil {
		return err
	}
	out, err := f.plan(roots)
	if err != nil {
		return err
	}
	defer out.Discard()
	s, err := open(ctx, f.store, len(roots) == 0 && f.forget == "" && f.before == "")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	if f.forget != "" {
		return forget(ctx, stdout, s, f.forget)
	}
	if f.before != "" {
		return forgetBefore(ctx, stdout, s, f.before)
	}
	var problems []fleetrun.Problem
	if len(roots) > 0 {
		if problems, err = update(ctx, stdout, stderr, s, roots, f); err != nil {
			return err
		}
	}
	sums, err := s.Sums(ctx, store.Question{Least: f.fleetOptions(nil).Least(), HideEnds: f.private, Monthly: f.monthly})
	if err != nil {
		return err
	}
	key, err := s.Key(ctx)
	if err != nil {
		return err
	}
	// Summarise may veil the paths of problems; on the operator's own screen
	// they stand in full.
	for _, p := range sums.Problems {
		problems = append(problems, fleetrun.Problem{Path: p.Path, Err: errors.New(p.Text)})
	}
	sum := fleet.Summarise(sums, f.fleetOptions(key))
	if err := f.write(ctx, stdout, out, s, sum, sums.Cells); err != nil {
		return err
	}
	summary(stdout, sum)
	return named(stderr, problems, int(sums.Logs))
}

// forget deletes a rider's rows.
func forget(ctx context.Context, stdout io.Writer, s store.Store, rider string) error {
	logs, err := s.Forget(ctx, rider)
	switch {
	case err != nil:
		return err
	case logs == 0:
		return fmt.Errorf("the store holds no log of a rider called %q; riders are called here as in the map, not by their pseudonyms", rider)
	}
	fmt.Fprintf(stdout, "%d logs of %s and all that was found in them are deleted. %s\n", logs, rider, whatRemains)
	return nil
}

// forgetBefore deletes the rows of old rides.
func forgetBefore(ctx context.Context, stdout io.Writer, s store.Store, day string) error {
	moment, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return fmt.Errorf("%w: --forget-before: %w", ErrUse, err)
	}
	logs, err := s.ForgetBefore(ctx, moment)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(stdout, "%d logs that began before %s and all that was found in them are deleted; logs without a time stay. %s\n", logs, day, whatRemains)
	return err
}

// whatRemains is said after every deletion.
const whatRemains = "The log files themselves are not deleted: delete them too, or the next run reads them again. Earlier pages, exports and backups keep what they hold; so do a database server's own log and its queue."

func isDay(s string) bool {
	_, err := time.Parse(time.DateOnly, s)
	return err == nil
}

func (f flags) check(roots []string) error {
	switch {
	case f.store == "":
		return fmt.Errorf("%w: no store given; name one with --store fleet.sqlite, it is made where there is none", ErrUse)
	case len(roots) > 0 && f.bikes == "":
		return fmt.Errorf("%w: no bike profiles given; name their folder with --bikes DIR", ErrUse)
	case len(roots) > 0 && (f.forget != "" || f.before != ""):
		return fmt.Errorf("%w: --forget and --forget-before delete and read no logs; leave the folders out", ErrUse)
	case f.forget != "" && f.before != "":
		return fmt.Errorf("%w: give --forget or --forget-before, not both", ErrUse)
	case f.before != "" && !isDay(f.before):
		return fmt.Errorf("%w: --forget-before %s: write the day like 2026-01-31", ErrUse, f.before)
	case f.jobs < 0, f.maxMB <= 0, f.maxTime <= 0, f.least < 1:
		return fmt.Errorf("%w: --jobs, --max-mb, --max-time and --least take numbers above zero", ErrUse)
	case f.private && f.least < 3:
		return fmt.Errorf("%w: --least %d tells too much of single people; 3 is the least with privacy on", ErrUse, f.least)
	}
	return nil
}

// plan checks all that will be written, before the store is opened. The logs
// themselves are safe without being listed: a page replaces pages only.
func (f flags) plan(roots []string) (*output.Files, error) {
	out := &output.Files{}
	out.Read(f.table, f.store)
	out.Read(roots...)
	if f.bikes != "" {
		out.Read(filepath.Join(f.bikes, fleetrun.MapFile))
	}
	if err := out.Plan("--output", f.out, output.OnlyOwnPages); err != nil {
		return nil, err
	}
	for _, e := range []struct {
		flag, folder string
		format       fleetreport.Format
	}{{"--csv", f.csv, fleetreport.CSV}, {"--parquet", f.parquet, fleetreport.Parquet}} {
		if e.folder == "" {
			continue
		}
		if err := out.PlanFolder(e.flag, e.folder, output.Anything); err != nil {
			return nil, err
		}
		if err := fleetreport.MayExport(e.folder, e.format, f.force); err != nil {
			return nil, fmt.Errorf("%s: %w", e.flag, err)
		}
	}
	if f.csv != "" && sameFolder(f.csv, f.parquet) {
		return nil, fmt.Errorf("%w: --csv and --parquet name the same folder; each needs its own", ErrUse)
	}
	return out, nil
}

func sameFolder(a, b string) bool {
	x, err := os.Stat(a)
	if err != nil {
		return filepath.Clean(a) == filepath.Clean(b)
	}
	y, err := os.Stat(b)
	return err == nil && os.SameFile(x, y)
}

func (f flags) fleetOptions(key []byte) fleet.Options {
	return fleet.Options{Private: f.private, LeastGroup: int64(f.least), Pseudonyms: fleet.Pseudonyms{Key: key}}
}

// update brings the store up to date with the logs in the folders.
func update(ctx context.Context, stdout, stderr io.Writer, s store.Store, roots []string, f flags) ([]fleetrun.Problem, error) {
	bikes, err := fleetrun.ReadBikes(f.bikes, f.table)
	if err != nil {
		return nil, err
	}
	found, err := fleetrun.Find(roots, f.leave()...)
	if err != nil {
		return nil, err
	}
	if len(found.Logs) == 0 && len(found.Problems) == 0 {
		return nil, fmt.Errorf("%s: no logs there: no file ends in .fit, .gpx, .tcx, .csv or .zip", strings.Join(roots, ", "))
	}
	show := newDisplay(stderr)
	report, err := fleetrun.Run(ctx, s, found, bikes, fleetrun.Options{
		Jobs: f.jobs, MaxBytes: int64(f.maxMB) << 20, MaxTime: f.maxTime, Retry: f.retry, Progress: show.progress,
	})
	show.end()
	if errors.Is(err, context.Canceled) {
		return nil, fmt.Errorf("stopped; what is done is stored (%d logs in this run), and the same command goes on from here: %w", report.Reviewed+report.Copies+report.Failed, context.Canceled)
	}
	if err != nil {
		return nil, err
	}
	told(stdout, report, found)
	for _, p := range report.Partly {
		fmt.Fprintf(stderr, "%s: read in part: %v\n", p.Path, p.Err)
	}
	return found.Problems, nil
}

// leave lists files that are no logs though their names may look so.
func (f flags) leave() []string {
	var all []string
	for _, path := range []string{f.table, f.store} {
		if path != "" {
			all = append(all, path)
		}
	}
	if f.bikes != "" {
		all = append(all, filepath.Join(f.bikes, fleetrun.MapFile))
	}
	if f.csv != "" {
		all = append(all, filepath.Join(f.csv, "rides.csv"), filepath.Join(f.csv, "habits.csv"), filepath.Join(f.csv, "segments.csv"))
	}
	return all
}

// write writes the page and the exports.
func (f flags) write(ctx context.Context, stdout io.Writer, out *output.Files, s store.Store, sum *fleet.Summary, cells []fleet.CellTally) error {
	veil := fleetreport.NewVeil(sum, cells)
	if f.parquet != "" {
		if err := fleetreport.Export(ctx, f.parquet, fleetreport.Parquet, s, veil, f.force); err != nil {
			return err
		}
	}
	if f.csv != "" {
		if err := fleetreport.Export(ctx, f.csv, fleetreport.CSV, s, veil, f.force); err != nil {
			return err
		}
	}
	if f.out == "" {
		return nil
	}
	if err := out.Write(f.out, func(w io.Writer) error {
		return fleetreport.HTML(w, sum, fleetreport.Options{Now: time.Now()})
	}); err != nil {
		return err
	}
	if err := out.Commit(); err != nil {
		return err
	}
	_, err := fmt.Fprintf(stdout, "The page: %s\n", f.out)
	return err
}
