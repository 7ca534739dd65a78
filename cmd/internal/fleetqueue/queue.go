package fleetqueue

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivermigrate"
	"github.com/riverqueue/river/rivertype"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store/postgres"
)

// A Review is one log to be reviewed, as the queue holds it. Where the same
// state of the same object waits, or was given up, it is not queued again.
type Review struct {
	Bucket      string `json:"bucket" river:"unique"`
	Key         string `json:"key" river:"unique"`
	Fingerprint string `json:"fingerprint" river:"unique"`
	Bytes       int64  `json:"bytes"`
	Round       int64  `json:"round,omitempty" river:"unique"` // counts when all is to be done again
	DoubtEvery  int    `json:"doubt_every,omitempty"`          // one log in so many is reviewed with intervals
	Version     string `json:"version" river:"unique"`         // of the analysis that it is queued for
}

// Kind implements river.JobArgs.
func (Review) Kind() string { return "review" }

// attempts is how often a log is tried whose failure may pass. River waits the
// fourth power of the attempt in seconds between them: half a day in all.
const attempts = 12

// undone are the states of logs without a result. What is done the store knows,
// by the version of the analysis too; a job that is done must not stand in the
// way of a later version, nor of an object that was removed and came back.
var undone = []rivertype.JobState{
	rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRunning,
	rivertype.JobStateRetryable, rivertype.JobStateScheduled, rivertype.JobStateDiscarded,
}

// InsertOpts implements river.JobArgsWithInsertOpts.
func (r Review) InsertOpts() river.InsertOpts {
	return river.InsertOpts{Queue: queueOf(r.Version), MaxAttempts: attempts, UniqueOpts: river.UniqueOpts{ByArgs: true, ByState: undone}}
}

// Each version of the analysis has a queue of its own: an older worker never
// sees the jobs of a newer one. The name of the queue of before there was the
// version in a job is the library's.
const queuePrefix = "reviews-"

func queueOf(version string) string {
	return queuePrefix + strings.ReplaceAll(version, ".", "-")
}

func versionOf(queue string) string {
	version, ours := strings.CutPrefix(queue, queuePrefix)
	if !ours {
		return "" // earlier than any
	}
	return strings.ReplaceAll(version, "-", ".")
}

// kept is how long the queue remembers what is done with.
const kept = 7 * 24 * time.Hour

// prepare makes the queue's tables, or brings them up to date, while no other
// process does.
func prepare(ctx context.Context, s *postgres.Store, logger *slog.Logger) error {
	m, err := rivermigrate.New(riverpgxv5.New(s.Pool()), &rivermigrate.Config{Schema: postgres.Schema, Logger: logger})
	if err != nil {
		return fmt.Errorf("queue: %w", err)
	}
	known := m.AllVersions()
	newest := known[len(known)-1].Version
	last, err := version(ctx, s)
	switch {
	case err != nil:
		return fmt.Errorf("queue: %w", err)
	case last > newest:
		return fmt.Errorf("queue: its tables were made by a later cogledger-fleet (version %d, this one knows %d); use that one", last, newest)
	case last == newest:
		return nil
	}
	// The lock is held by a transaction of its own: each of the queue's steps
	// needs one for itself.
	err = pgx.BeginFunc(ctx, s.Pool(), func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, "SELECT pg_advisory_xact_lock(hashtext($1))", postgres.Schema+" queue"); err != nil {
			return err
		}
		_, err := m.Migrate(ctx, rivermigrate.DirectionUp, nil)
		return err
	})
	if err != nil {
		return fmt.Errorf("queue: making its tables: %w", err)
	}
	return nil
}

// version is that of the queue's tables, 0 where there are none.
func version(ctx context.Context, s *postgres.Store) (int, error) {
	var there bool
	if err := s.Pool().QueryRow(ctx, "SELECT to_regclass('river_migration') IS NOT NULL").Scan(&there); err != nil || !there {
		return 0, err
	}
	var last int
	err := s.Pool().QueryRow(ctx, "SELECT COALESCE(MAX(version), 0) FROM river_migration WHERE line = 'main'").Scan(&last)
	return last, err
}

// inserter is a client that only puts logs into the queue.
func inserter(s *postgres.Store, logger *slog.Logger) (*river.Client[pgx.Tx], error) {
	return river.NewClient(riverpgxv5.New(s.Pool()), &river.Config{Schema: postgres.Schema, Logger: logger})
}

// A depth is how many logs of one version wait in one state.
type depth struct {
	Version, State string
	Logs           int64
}

// idle are the states of logs that no worker holds.
const idle = "('available', 'pending', 'retryable', 'scheduled')"

// depths counts the logs that are not done with, by version and state.
func depths(ctx context.Context, s *postgres.Store) ([]depth, error) {
	found, err := s.Pool().Query(ctx, "SELECT queue, state::text, COUNT(*) FROM river_job WHERE kind = $1 AND (state = 'running' OR state IN "+idle+") GROUP BY queue, state", Review{}.Kind())
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(found, func(row pgx.CollectableRow) (depth, error) {
		var d depth
		err := row.Scan(&d.Version, &d.State, &d.Logs)
		d.Version = versionOf(d.Version)
		return d, err
	})
}

// adopt queues the logs that wait for an older version for this one instead,
// those that are queued for it already only once. An older worker that holds a
// log keeps it: what it finds is not kept once this version has done the log.
func adopt(ctx context.Context, s *postgres.Store, client *river.Client[pgx.Tx], version string) error {
	all, err := depths(ctx, s)
	if err != nil {
		return fmt.Errorf("queue: %w", err)
	}
	for _, d := range all {
		if !fleet.Newer(version, d.Version) || d.State == string(rivertype.JobStateRunning) {
			continue
		}
		for taken := 1; taken > 0; {
			if err := pgx.BeginFunc(ctx, s.Pool(), func(tx pgx.Tx) error {
				n, err := take(ctx, tx, client, d, version)
				taken = n
				return err
			}); err != nil {
				return fmt.Errorf("queue: taking over the logs of version %q: %w", d.Version, err)
			}
		}
	}
	return nil
}

// take moves a page of jobs from one version to a newer one.
func take(ctx context.Context, tx pgx.Tx, client *river.Client[pgx.Tx], d depth, version string) (int, error) {
	queue := queueOf(d.Version)
	if d.Version == "" {
		queue = river.QueueDefault
	}
	found, err := tx.Query(ctx, `DELETE FROM river_job WHERE id IN (SELECT id FROM river_job WHERE kind = $1 AND queue = $2 AND state = $3::river_job_state
		ORDER BY id LIMIT $4 FOR UPDATE SKIP LOCKED) RETURNING args`, Review{}.Kind(), queue, d.State, page)
	if err != nil {
		return 0, err
	}
	logs, err := pgx.CollectRows(found, pgx.RowTo[Review])
	if err != nil || len(logs) == 0 {
		return 0, err
	}
	jobs := make([]river.InsertManyParams, len(logs))
	for i, log := range logs {
		log.Version = version
		jobs[i].Args = log
	}
	_, err = client.InsertManyTx(ctx, tx, jobs)
	return len(logs), err
}
