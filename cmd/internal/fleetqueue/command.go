package fleetqueue

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"runtime"
	"time"

	"github.com/spf13/cobra"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store/postgres"
	"cogledger/cmd/internal/fleetcmd"
	"cogledger/cmd/internal/fleetrun"
)

// NewEnqueue is the command that puts logs into the queue.
func NewEnqueue(program string) *cobra.Command {
	var address, form string
	var every time.Duration
	var again bool
	cmd := &cobra.Command{
		Use:   "enqueue URL...",
		Short: "Queue the logs of a bucket that are new or have changed",
		Long: `enqueue lists buckets, or prefixes in them, and puts every log into the queue
that the store does not hold as it is: new ones, changed ones, and those that an
earlier version of the analysis reviewed. It may be run as often as you like; a
log that waits already is not queued twice.

A URL is file:///folder, s3://bucket/prefix, gs://bucket/prefix or
azblob://container/prefix. Credentials are found as the cloud's own tools find
them. In a bucket each log is an object of its own, gzipped or not; zips are
passed over and counted.`,
		Example: fmt.Sprintf(`  %[1]s enqueue s3://rides/2026/ --store postgres://fleet@db/fleet

  # Look for new rides every minute
  %[1]s enqueue s3://rides/ --store postgres://fleet@db/fleet --every 1m`, program),
		RunE: func(cmd *cobra.Command, urls []string) error {
			logger, err := newLogger(cmd.ErrOrStderr(), form)
			if err != nil {
				return err
			}
			if len(urls) == 0 || every < 0 {
				return fmt.Errorf("%w: name the buckets to list, and with --every a time above zero", fleetcmd.ErrUse)
			}
			var places []place
			for _, text := range urls {
				at, err := parsePlace(text)
				if err != nil {
					return fmt.Errorf("%w: %w", fleetcmd.ErrUse, err)
				}
				places = append(places, at)
			}
			s, err := openQueue(cmd.Context(), address, logger)
			if err != nil {
				return err
			}
			defer s.Close()
			var round int64
			if again {
				round = time.Now().Unix()
			}
			return passes(cmd.Context(), cmd.OutOrStdout(), s, places, every, round, logger)
		},
	}
	f := cmd.Flags()
	f.StringVar(&address, "store", "", "the database, as postgres://user@host/database")
	f.DurationVar(&every, "every", 0, "list again after so long, until stopped (default once)")
	f.BoolVar(&again, "again", false, "queue everything, what is stored as it is too; after profiles were changed")
	f.StringVar(&form, "log", "text", "how to log on stderr: text or json")
	return cmd
}

// passes lists the places once, or again and again. Where listing goes on, a
// pass that fails is told and the next may succeed.
func passes(ctx context.Context, stdout io.Writer, s *postgres.Store, places []place, every time.Duration, round int64, logger *slog.Logger) error {
	for {
		var failed error
		for _, at := range places {
			done, err := enqueue(ctx, s, at, round, fleet.Version(), logger)
			fmt.Fprintf(stdout, "%s%s: %d logs, %d queued, %d in the queue already, %d up to date; passed over: %d zips, %d other files\n",
				at.Bucket, slashed(at.Prefix), done.Logs, done.Queued, done.Waiting, done.Current, done.Zips, done.Others)
			if done.Later > 0 {
				fmt.Fprintf(stdout, "%d logs were reviewed by a later version of this program and are left to it, changed or not; queue with that version\n", done.Later)
			}
			failed = errors.Join(failed, err)
		}
		if every == 0 || ctx.Err() != nil {
			return failed
		}
		if failed != nil {
			logger.Error("listing", "error", failed.Error())
		}
		round = 0
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(every):
		}
	}
}

func slashed(prefix string) string {
	if prefix == "" {
		return ""
	}
	return "/" + prefix
}

// NewWork is the command that takes logs from the queue.
func NewWork(program string) *cobra.Command {
	var address, bikes, table, at, form string
	var o WorkOptions
	var maxMB int
	cmd := &cobra.Command{
		Use:   "work",
		Short: "Review logs from the queue",
		Long: `work takes logs from the queue, reviews them and puts the results into the
store, on as many machines as you like. Each needs the same bike profiles and
map; a change of these is taken up when work is started anew.

A failure that may pass, of a network or the database, is tried again, later
each time; a log that cannot be used is stored with its error and parked. When
a worker dies, its logs are taken up by another after --rescue-after. On SIGTERM
or Ctrl-C the logs in work are finished, and nothing new is begun.`,
		Example: fmt.Sprintf(`  %[1]s work --store postgres://fleet@db/fleet --bikes bikes --jobs 8 --listen 127.0.0.1:9464

  # Work off what there is, then end
  %[1]s work --store postgres://fleet@db/fleet --bikes bikes --until-empty`, program),
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			ctx := cmd.Context()
			logger, err := newLogger(cmd.ErrOrStderr(), form)
			switch {
			case err != nil:
				return err
			case !postgres.Named(address):
				return errNoDatabase
			case bikes == "":
				return fmt.Errorf("%w: no bike profiles given; name their folder with --bikes DIR", fleetcmd.ErrUse)
			case o.Jobs < 0, maxMB <= 0, o.MaxTime <= 0, o.StopWithin <= 0, o.RescueAfter < 0:
				return fmt.Errorf("%w: --jobs, --max-mb, --max-time, --stop-within and --rescue-after take values above zero", fleetcmd.ErrUse)
			case o.RescueAfter > 0 && o.RescueAfter <= o.MaxTime:
				return fmt.Errorf("%w: --rescue-after must be longer than --max-time, else logs in work are taken for lost", fleetcmd.ErrUse)
			}
			if o.Jobs == 0 {
				o.Jobs = runtime.GOMAXPROCS(0)
			}
			o.MaxBytes = int64(maxMB) << 20
			known, err := fleetrun.ReadBikes(bikes, table)
			if err != nil {
				return err
			}
			s, err := openQueue(ctx, address, logger)
			if err != nil {
				return err
			}
			defer s.Close()
			c := newCounters()
			if at != "" {
				bound, err := listen(ctx, at, s, c, logger)
				if err != nil {
					return err
				}
				logger.Info("metrics", "address", bound.String())
			}
			return work(ctx, s, known, o, c, logger)
		},
	}
	f := cmd.Flags()
	f.StringVar(&address, "store", "", "the database, as postgres://user@host/database")
	f.StringVar(&bikes, "bikes", "", "folder of bike profiles (YAML)")
	f.StringVar(&table, "map", "", "CSV that tells whose each log is (default fleet.csv in the folder of profiles, where there is one)")
	f.IntVarP(&o.Jobs, "jobs", "j", 0, "logs in work at once (default one a processor)")
	f.IntVar(&maxMB, "max-mb", 64, "largest log, unpacked, in MB")
	f.DurationVar(&o.MaxTime, "max-time", time.Minute, "longest time for one log")
	f.DurationVar(&o.StopWithin, "stop-within", 30*time.Second, "time for the logs in work when asked to stop")
	f.DurationVar(&o.RescueAfter, "rescue-after", 0, "a log in work for so long is taken for lost with its worker (default --max-time and two minutes)")
	f.BoolVar(&o.UntilEmpty, "until-empty", false, "end when the queue is empty")
	f.StringVar(&at, "listen", "", "address for /healthz, /readyz and /metrics, as 127.0.0.1:9464 (default none)")
	f.StringVar(&form, "log", "text", "how to log on stderr: text or json")
	return cmd
}

var errNoDatabase = fmt.Errorf("%w: a queue needs a database: --store postgres://user@host/database", fleetcmd.ErrUse)

// openQueue opens the store and the queue in it.
func openQueue(ctx context.Context, address string, logger *slog.Logger) (*postgres.Store, error) {
	if !postgres.Named(address) {
		return nil, errNoDatabase
	}
	s, err := postgres.Open(ctx, address)
	if err != nil {
		return nil, err
	}
	if err := prepare(ctx, s, logger); err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

func newLogger(to io.Writer, form string) (*slog.Logger, error) {
	o := &slog.HandlerOptions{Level: slog.LevelInfo}
	switch form {
	case "text":
		return slog.New(slog.NewTextHandler(to, o)), nil
	case "json":
		return slog.New(slog.NewJSONHandler(to, o)), nil
	}
	return nil, fmt.Errorf("%w: --log %s: text and json are known", fleetcmd.ErrUse, form)
}
