package fleetqueue

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"gocloud.dev/gcerrors"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store/postgres"
	"cogledger/cmd/internal/fleetrun"
)

// reviewer does the logs of the queue.
type reviewer struct {
	river.WorkerDefaults[Review]
	store    *postgres.Store
	options  fleetrun.Options
	buckets  *buckets
	worker   *fleetrun.Worker
	counters *counters
	logger   *slog.Logger
	giveUp   context.CancelCauseFunc // of the process: it can do no more logs
}

func newReviewer(s *postgres.Store, bikes *fleetrun.Bikes, o fleetrun.Options, c *counters, logger *slog.Logger, giveUp context.CancelCauseFunc) *reviewer {
	r := &reviewer{store: s, options: o, buckets: &buckets{}, counters: c, logger: logger, giveUp: giveUp}
	r.worker = fleetrun.NewWorker(s.Owner, r.present, bikes, o)
	return r
}

// Work does one log. An error means that it may go better later; what is the
// matter with the log itself is stored, and the job is parked with it.
func (r *reviewer) Work(ctx context.Context, job *river.Job[Review]) error {
	began := time.Now()
	logPath := pathOf(job.Args.Bucket, job.Args.Key)
	outcome, seconds, err := r.review(ctx, job.Args, logPath)
	if err == nil {
		err = r.store.Put(ctx, []fleet.Outcome{outcome})
	}
	took := time.Since(began)
	switch {
	case errors.Is(err, errGone):
		r.counters.done("gone", 0, took)
		r.logger.Info("log gone", "path", logPath)
		return river.JobCancel(fmt.Errorf("%s: %w", logPath, err))
	case err != nil:
		if errors.Is(err, fleetrun.ErrHung) {
			r.giveUp(err)
		}
		r.counters.done("again", 0, took)
		r.logger.Warn("log to be tried again", "path", logPath, "attempt", job.Attempt, "error", err.Error())
		return err
	case outcome.Log.Problem != "":
		r.counters.done("unusable", 0, took)
		r.logger.Warn("log unusable", "path", logPath, "error", outcome.Log.Problem)
		return river.JobCancel(fmt.Errorf("%s: %s", logPath, outcome.Log.Problem))
	case outcome.Known:
		r.counters.done("copy", 0, took)
	default:
		r.counters.done("reviewed", seconds, took)
	}
	r.logger.Debug("log done", "path", logPath, "bike", outcome.Log.Bike, "rides", len(outcome.Rides), "seconds", seconds, "took", took)
	return nil
}

var errGone = errors.New("the object was removed before its turn came")

// review fetches a log and reviews it.
func (r *reviewer) review(ctx context.Context, args Review, logPath string) (fleet.Outcome, int64, error) {
	found := &fleetrun.Found{Path: logPath, Fingerprint: args.Fingerprint, Bytes: args.Bytes, DoubtEvery: args.DoubtEvery}
	if args.Bytes <= r.options.MaxBytes { // else the worker refuses it unread
		bucket, err := r.buckets.get(ctx, args.Bucket)
		if err != nil {
			return fleet.Outcome{}, 0, err
		}
		data, err := fetch(ctx, bucket, args.Key, r.options.MaxBytes)
		switch {
		case gcerrors.Code(err) == gcerrors.NotFound:
			return fleet.Outcome{}, 0, errGone
		case err != nil:
			return fleet.Outcome{}, 0, fmt.Errorf("%s: %s%w", logPath, cure(err), err)
		}
		found.Open = func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(data)), nil }
	}
	return r.worker.Do(ctx, found)
}

// present reports whether an object is still there; of paths elsewhere, and
// when the bucket does not answer, that it is: nothing is taken over on a guess.
func (r *reviewer) present(ctx context.Context, logPath string) bool {
	r.buckets.mu.Lock()
	var addresses []string
	for address := range r.buckets.open {
		addresses = append(addresses, address)
	}
	r.buckets.mu.Unlock()
	for _, address := range addresses {
		key, ok := keyIn(address, logPath)
		if !ok {
			continue
		}
		if bucket, err := r.buckets.get(ctx, address); err == nil {
			if there, err := bucket.Exists(ctx, key); err == nil {
				return there
			}
		}
	}
	return true
}

// slack is what a job may take beyond the review itself: fetching and storing.
const slack = time.Minute

// WorkOptions are what a worker process is asked for.
type WorkOptions struct {
	fleetrun.Options
	UntilEmpty  bool          // end when nothing waits
	StopWithin  time.Duration // for the logs in work, when asked to stop; 30 s
	RescueAfter time.Duration // a log in work for so long is taken for lost with its worker; MaxTime and two minutes
}

func (o WorkOptions) rescueAfter() time.Duration {
	if o.RescueAfter > 0 {
		return o.RescueAfter
	}
	return o.MaxTime + 2*slack
}

// work takes logs from the queue until the context ends or, if asked for, the
// queue is empty. Logs in work are then finished; what takes too long goes back.
// It ends with an error when too many logs hung.
func work(ctx context.Context, s *postgres.Store, bikes *fleetrun.Bikes, o WorkOptions, c *counters, logger *slog.Logger) error {
	defer fleetrun.CollectSeldom()()
	if o.Version == "" {
		o.Version = fleet.Version()
	}
	ctx, giveUp := context.WithCancelCause(ctx)
	defer giveUp(nil)
	r := newReviewer(s, bikes, o.Options, c, logger, giveUp)
	defer r.buckets.Close()
	workers := river.NewWorkers()
	river.AddWorker(workers, r)
	client, err := river.NewClient(riverpgxv5.New(s.Pool()), &river.Config{
		Schema: postgres.Schema, Logger: logger, Workers: workers,
		Queues:        map[string]river.QueueConfig{queueOf(o.Version): {MaxWorkers: o.Jobs}},
		FetchCooldown: 5 * time.Millisecond,
		JobTimeout:    min(o.MaxTime+slack, o.rescueAfter()), RescueStuckJobsAfter: o.rescueAfter(),
		CompletedJobRetentionPeriod: kept, CancelledJobRetentionPeriod: kept, DiscardedJobRetentionPeriod: kept,
	})
	if err != nil {
		return fmt.Errorf("queue: %w", err)
	}
	// The client outlives the context's end: a stop asked for is not a break.
	if err := client.Start(context.WithoutCancel(ctx)); err != nil {
		return fmt.Errorf("queue: %w", err)
	}
	logger.Info("working", "jobs", o.Jobs, "store", s.Name(), "version", o.Version)
	tend(ctx, s, client, o, logger)
	err = stop(ctx, client, o, logger)
	if cause := context.Cause(ctx); errors.Is(cause, fleetrun.ErrHung) {
		err = errors.Join(cause, err)
	}
	return err
}

func stop(ctx context.Context, client *river.Client[pgx.Tx], o WorkOptions, logger *slog.Logger) error {
	within := o.StopWithin
	if within <= 0 {
		within = 30 * time.Second
	}
	logger.Info("stopping", "within", within)
	soft, cancel := context.WithTimeout(context.WithoutCancel(ctx), within)
	defer cancel()
	err := client.Stop(soft)
	if errors.Is(err, context.DeadlineExceeded) {
		hard, cancel := context.WithTimeout(context.WithoutCancel(ctx), within)
		defer cancel()
		err = client.StopAndCancel(hard)
	}
	if err != nil {
		return fmt.Errorf("queue: stopping: %w", err)
	}
	return nil
}

// tend takes over what waits for older versions until the context ends or, if
// asked for, nothing waits for this version or an older one. While the database
// does not answer, it goes on.
func tend(ctx context.Context, s *postgres.Store, client *river.Client[pgx.Tx], o WorkOptions, logger *slog.Logger) {
	pause := 10 * time.Second
	if o.UntilEmpty {
		pause = 250 * time.Millisecond
	}
	for {
		err := adopt(ctx, s, client, o.Version)
		left := true
		if err == nil && o.UntilEmpty {
			left, err = anyLeft(ctx, s, o.Version)
		}
		switch {
		case ctx.Err() != nil:
			return
		case err != nil:
			logger.Warn("the queue does not answer", "error", err.Error())
		case !left:
			return
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(pause):
		}
	}
}

// anyLeft reports whether a log waits, or is in work, for a version or an older
// one.
func anyLeft(ctx context.Context, s *postgres.Store, version string) (bool, error) {
	all, err := depths(ctx, s)
	return slices.ContainsFunc(all, func(d depth) bool { return !fleet.Newer(d.Version, version) }), err
}
