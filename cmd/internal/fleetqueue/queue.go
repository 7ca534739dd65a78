package fleetqueue

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivermigrate"
	"github.com/riverqueue/river/rivertype"

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
func (Review) InsertOpts() river.InsertOpts {
	return river.InsertOpts{MaxAttempts: attempts, UniqueOpts: river.UniqueOpts{ByArgs: true, ByState: undone}}
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

// waiting counts the logs that are not done with, by the queue's state of them.
func waiting(ctx context.Context, s *postgres.Store) (map[string]int64, error) {
	found, err := s.Pool().Query(ctx, "SELECT state::text, COUNT(*) FROM river_job WHERE kind = $1 AND state NOT IN ('completed', 'cancelled', 'discarded') GROUP BY state", Review{}.Kind())
	if err != nil {
		return nil, err
	}
	counts := map[string]int64{}
	var state string
	var n int64
	_, err = pgx.ForEachRow(found, []any{&state, &n}, func() error {
		counts[state] = n
		return nil
	})
	return counts, err
}
