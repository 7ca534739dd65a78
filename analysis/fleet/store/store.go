// Package store says what a place that keeps a fleet's rows must do, and holds
// the questions that every such place is asked in SQL.
//
// The contract in short:
//
//   - A log is known by its path, a ride by the hash of its log's bytes and its
//     part. Putting the same outcome again changes nothing.
//   - Put is all or nothing. When a process ends between two calls, however it
//     ends, the store holds the outcomes of whole calls.
//   - Any number of processes may put at once. Where two logs have the same
//     content, the rides belong to the one whose path comes first, whichever
//     was put first.
//   - When a log's content changes, the rows of its old content go, unless
//     another log still has that content.
//   - What a newer version of the analysis has put stays when an older one puts
//     the same log or content: where two versions work on one store, all rows
//     become the newer one's, in whatever order they come.
//   - NaN is stored as null and read as NaN; no number changes on the way.
//
// Package storetest tests all of this on any store.
package store

import (
	"context"
	"iter"
	"time"

	"cogledger/analysis/fleet"
)

// A Store keeps the rows of a fleet. Its methods may be called from several
// goroutines.
type Store interface {
	// Key is the secret of this store that pseudonyms are made with. It is drawn
	// when the store is made and never changes.
	Key(ctx context.Context) ([]byte, error)

	// Known gives what is stored of those of the paths that the store knows.
	Known(ctx context.Context, paths []string) (map[string]fleet.Log, error)

	// Owner gives the log that the rides of a content belong to, and whether
	// there are any. Of the log only path, assignment and version are filled.
	Owner(ctx context.Context, content string) (fleet.Log, bool, error)

	// Put stores outcomes, replacing what their logs said before.
	Put(ctx context.Context, outcomes []fleet.Outcome) error

	// Assign hands logs and the rides that they own to other bikes, riders and
	// groups. The profile must stay the same one: numbers are not made again.
	Assign(ctx context.Context, logs []fleet.Log) error

	// Forget lets the logs of a rider go, with the rides that they own, and says
	// how many logs they were. Of a content that somebody else's log holds too
	// the rides go as well; that log is then as one of an earlier version, to be
	// done again. What is put at the same time may stay.
	Forget(ctx context.Context, rider string) (logs int64, err error)

	// ForgetBefore lets the logs go that began before a moment, with all that was
	// found in them, and says how many they were. Logs without a time stay.
	ForgetBefore(ctx context.Context, moment time.Time) (logs int64, err error)

	// Sums answers the questions of a summary, all at one moment.
	Sums(ctx context.Context, q Question) (fleet.Sums, error)

	// Rides, Habits, Segments and Logs give every row in the order of its key.
	// Each pair holds a row or, as the last, an error. The row is the caller's
	// until the next.
	Rides(ctx context.Context) iter.Seq2[*fleet.Ride, error]
	Habits(ctx context.Context) iter.Seq2[*fleet.Habit, error]
	Segments(ctx context.Context) iter.Seq2[*fleet.Segment, error]
	Logs(ctx context.Context) iter.Seq2[*fleet.Log, error]

	Close() error
}

// A Question says which sums are wanted.
type Question struct {
	Least    int64 // different bikes, and riders where known, that a cell of the map needs
	HideEnds bool  // leave stretches near the start or end of their ride out of the cells
	Monthly  bool  // spans are months, else weeks
	Problems int64 // most problems to list; 0 lists all
}
