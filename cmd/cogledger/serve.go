package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/cmd/internal/counter"
	"cogledger/ingest/ride"
	"cogledger/report"
	"cogledger/report/coach"
)

// serveFlags are what `serve` is asked for.
type serveFlags struct {
	address   string
	bikes     string
	keep      string
	maxUpload int64
	maxTime   time.Duration
}

func newServe() *cobra.Command {
	var f serveFlags
	cmd := &cobra.Command{
		Use:   "serve",
		Short: "Open a local page to drop logs on, for a shop's counter",
		Long: `serve opens a page on this computer: drop one or several logs, pick a bike, and
get the report and the rider's page. Nothing leaves the computer. The logs are
removed when a review is done and the rest when serve ends, unless --keep names
a folder and the page's box is ticked.

Only this computer reaches the page, and no other web site can use it; anyone who
can log in to this computer can open it. Ctrl-C ends it.`,
		Example: `  # A dealer: all bikes that you sell, each with its profile in one folder
  cogledger serve --bikes profiles/

  # A workshop that keeps its customers' reviews
  cogledger serve --bikes profiles/ --keep reviews/

  # A rider: just try it with the demo bike
  cogledger serve

  # Another port, and smaller limits
  cogledger serve --address 127.0.0.1:9000 --max-upload 50 --max-time 1m`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return serve(cmd.Context(), cmd.OutOrStdout(), cmd.ErrOrStderr(), f)
		},
	}
	s := cmd.Flags()
	s.StringVar(&f.address, "address", "127.0.0.1:8735", "address on this computer; port 0 picks a free one")
	s.StringVar(&f.bikes, "bikes", "", "folder with bike profiles to pick from")
	s.StringVar(&f.keep, "keep", "", "folder for what the page is asked to keep")
	s.Int64Var(&f.maxUpload, "max-upload", 500, "MB at once")
	s.DurationVar(&f.maxTime, "max-time", 10*time.Minute, "for one review")
	must(cmd.MarkFlagDirname("bikes"))
	must(cmd.MarkFlagDirname("keep"))
	return cmd
}

func serve(ctx context.Context, stdout, stderr io.Writer, f serveFlags) (err error) {
	if f.maxUpload <= 0 || f.maxTime <= 0 {
		return usagef("--max-upload and --max-time must be above zero")
	}
	bikes, err := bikesToPick(stderr, f.bikes)
	if err != nil {
		return err
	}
	l, err := counter.Listen(f.address)
	if err != nil {
		return fmt.Errorf("%w; another address is given with --address 127.0.0.1:0", err)
	}
	defer l.Close() // Serve closes it as well; that error has been told
	s, err := counter.New(counter.Options{
		Bikes: bikes, Work: counterWork, KeepDir: f.keep, MaxUpload: f.maxUpload * 1e6, JobTime: f.maxTime, Errors: stderr,
	})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	if _, err := fmt.Fprintf(stdout, "Open http://%s/ in a browser. Ctrl-C ends.\n", l.Addr()); err != nil {
		return err
	}
	return s.Serve(ctx, l)
}

// bikesToPick lists the profiles of a folder and the demo's. A profile that
// cannot be used is named and left out.
func bikesToPick(stderr io.Writer, dir string) ([]counter.Bike, error) {
	var bikes []counter.Bike
	if dir != "" {
		paths, err := filepath.Glob(filepath.Join(dir, "*.y*ml"))
		if err != nil {
			return nil, err
		}
		for _, path := range paths {
			p, err := readProfile(path)
			if err != nil {
				fmt.Fprintf(stderr, "cogledger: %v\n", err)
				continue
			}
			data, err := os.ReadFile(path)
			if err != nil {
				return nil, err
			}
			bikes = append(bikes, counter.Bike{Name: p.Name, YAML: data})
		}
		if len(bikes) == 0 {
			fmt.Fprintf(stderr, "cogledger: %s holds no bike profile that can be used; `cogledger bike new > %s` writes one\n", dir, filepath.Join(dir, "bike.yaml"))
		}
	}
	demo := bike.Example().Name + " (made-up demo bike)"
	return append(bikes, counter.Bike{Name: demo, YAML: bike.ExampleYAML()}), nil
}

// counterWork reviews what was dropped on the page.
func counterWork(ctx context.Context, o counter.Order, tell func(counter.Progress)) (counter.Outcome, error) {
	j := &counterJob{order: o, tell: tell, total: len(o.Before) + len(o.After) + 1} // the pages are a step too
	err := j.work(ctx)
	return j.out, err
}

// A counterJob is one order being worked off.
type counterJob struct {
	order counter.Order
	tell  func(counter.Progress)
	total int
	logs  logReader
	out   counter.Outcome
}

func (j *counterJob) work(ctx context.Context) error {
	p, err := bike.Parse(j.order.Bike, j.order.BikeFile)
	if err != nil {
		return err
	}
	if j.order.Learn {
		if p, err = j.learn(ctx, p); err != nil {
			return err
		}
	}
	for _, f := range j.order.Second {
		if err := j.logs.openSecond([]string{f.Path}); err != nil {
			j.trouble(f.Path, err)
		}
	}
	j.logs.assign(slices.Concat(pathsOf(j.order.Before), pathsOf(j.order.After)))
	earlier, err := reviewLogs(ctx, pathsOf(j.order.Before), p, &j.logs, j.watch(0))
	if err != nil {
		return err
	}
	later, err := reviewLogs(ctx, pathsOf(j.order.After), p, &j.logs, j.watch(len(j.order.Before)))
	if err != nil {
		return err
	}
	if err := j.logs.unmatched(); err != nil {
		j.out.Problems = append(j.out.Problems, counter.Problem{Text: err.Error()})
	}
	if len(earlier) == 0 && len(later) == 0 {
		return errors.New("none of the files holds a ride that can be reviewed")
	}
	j.tell(counter.Progress{Doing: "writing the report", Done: j.total - 1, Total: j.total})
	return j.papers(earlier, later)
}

func (j *counterJob) watch(gone int) watch {
	return watch{
		begin: func(done int, path string) {
			j.tell(counter.Progress{Doing: readingOf(path), Done: gone + done, Total: j.total})
		},
		trouble: j.trouble,
	}
}

func (j *counterJob) trouble(path string, err error) {
	name := filepath.Base(path)
	j.out.Problems = append(j.out.Problems, counter.Problem{File: name, Text: strings.TrimPrefix(err.Error(), name+": ")})
}

// learn finds the bike's gears in all rides, and offers the profile for saving.
// Files that cannot be read are named later, when they are reviewed.
func (j *counterJob) learn(ctx context.Context, start *bike.Profile) (*bike.Profile, error) {
	j.tell(counter.Progress{Doing: "finding the gears", Total: j.total})
	var rides []*ride.Ride
	for _, path := range append(pathsOf(j.order.Before), pathsOf(j.order.After)...) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		found, err := new(logReader).rides(path)
		if err == nil {
			rides = append(rides, found...)
		}
	}
	p, remarks, notes, err := learnGears(rides, start, j.order.Tyre)
	if err != nil {
		return nil, err
	}
	text, err := p.YAML(remarks)
	if err != nil {
		return nil, err
	}
	for _, n := range notes {
		j.out.Summary = append(j.out.Summary, sentence(n.String()))
	}
	j.out.Documents = append(j.out.Documents, counter.Document{Name: "bike.yaml", Title: "The bike’s profile, to save", Data: text})
	return bike.Parse(text, j.order.BikeFile)
}

// sentence begins with a capital and ends with a full stop.
func sentence(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + strings.TrimSuffix(s[1:], ".") + "."
}

func pathsOf(files []counter.File) []string {
	paths := make([]string, len(files))
	for i, f := range files {
		paths[i] = f.Path
	}
	return paths
}

// papers writes the report of all rides and the rider's page in both sizes.
func (j *counterJob) papers(earlier, later []*analysis.Result) error {
	add := func(name, title string, write func(io.Writer) error) error {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			return err
		}
		j.out.Documents = append(j.out.Documents, counter.Document{Name: name, Title: title, Data: b.Bytes()})
		return nil
	}
	all := analysis.Together(append(append([]*analysis.Result(nil), earlier...), later...))
	now := time.Now()
	if err := add("report.html", "Report", func(w io.Writer) error { return report.HTML(w, all, report.Options{Now: now}) }); err != nil {
		return err
	}
	if len(earlier) == 0 {
		earlier, later = later, nil
	}
	set, change := lessonOf(earlier, later, 0)
	for _, paper := range []coach.Paper{coach.A4, coach.Letter} {
		write := func(w io.Writer) error {
			return coach.HTML(w, set, change, coach.Options{Paper: paper, Now: now})
		}
		if err := add(fmt.Sprintf("coach-%s.html", paper), fmt.Sprintf("Rider’s page, %s", paper), write); err != nil {
			return err
		}
	}
	j.out.Summary = append(j.out.Summary, fmt.Sprintf("Reviewed %s, %.1f km.", rideCount(len(all.Rides)), all.Total.Distance/1000))
	return nil
}
