package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
)

// Put stores outcomes in one transaction.
func (s *Store) Put(ctx context.Context, outcomes []fleet.Outcome) error {
	if len(outcomes) == 0 {
		return nil
	}
	return s.within(ctx, func(tx *sql.Tx) error {
		w, err := newWriter(ctx, tx)
		if err != nil {
			return err
		}
		defer w.close()
		for i := range outcomes {
			if err := w.put(ctx, &outcomes[i]); err != nil {
				return err
			}
		}
		return nil
	})
}

// A writer holds the prepared statements of one transaction.
type writer struct {
	statements []*sql.Stmt

	heldBy, ownerOf, stillHeld         *sql.Stmt
	putLog                             *sql.Stmt
	putRide, putHabit, putSegment      *sql.Stmt
	dropRides, dropHabits, dropSegment *sql.Stmt

	logs     []fleet.Column[fleet.Log]
	rides    []fleet.Column[fleet.Ride]
	habits   []fleet.Column[fleet.Habit]
	segments []fleet.Column[fleet.Segment]
	values   []any
}

func newWriter(ctx context.Context, tx *sql.Tx) (*writer, error) {
	w := &writer{logs: fleet.LogColumns(), rides: fleet.RideColumns(), habits: fleet.HabitColumns(), segments: fleet.SegmentColumns()}
	var failed error
	prepare := func(query string) *sql.Stmt {
		statement, err := tx.PrepareContext(ctx, query)
		if err != nil {
			failed = errors.Join(failed, err)
			return nil
		}
		w.statements = append(w.statements, statement)
		return statement
	}
	w.heldBy = prepare("SELECT content, version FROM logs WHERE path = ?")
	w.ownerOf = prepare("SELECT path, version FROM rides WHERE content = ? ORDER BY part LIMIT 1")
	w.stillHeld = prepare("SELECT COUNT(*) FROM logs WHERE content = ? AND path <> ?")
	w.putLog = prepare(insert("logs", store.Names(w.logs)))
	w.putRide = prepare(insert("rides", store.Names(w.rides)))
	w.putHabit = prepare(insert("habits", store.Names(w.habits)))
	w.putSegment = prepare(insert("segments", store.Names(w.segments)))
	w.dropRides = prepare("DELETE FROM rides WHERE content = ?")
	w.dropHabits = prepare("DELETE FROM habits WHERE content = ?")
	w.dropSegment = prepare("DELETE FROM segments WHERE content = ?")
	if failed != nil {
		w.close()
		return nil, failed
	}
	return w, nil
}

func (w *writer) close() {
	for _, s := range w.statements {
		s.Close()
	}
}

func (w *writer) put(ctx context.Context, o *fleet.Outcome) error {
	if newer, err := w.forget(ctx, o); err != nil || newer {
		return err
	}
	if err := exec(ctx, w, w.putLog, w.logs, &o.Log); err != nil {
		return err
	}
	if o.Known {
		return nil
	}
	held, owned, err := w.owner(ctx, o)
	if err != nil || owned {
		return err
	}
	if held {
		if err := w.drop(ctx, o.Log.Content); err != nil {
			return err
		}
	}
	for i := range o.Rides {
		if err := exec(ctx, w, w.putRide, w.rides, &o.Rides[i]); err != nil {
			return err
		}
	}
	for i := range o.Habits {
		if err := exec(ctx, w, w.putHabit, w.habits, &o.Habits[i]); err != nil {
			return err
		}
	}
	for i := range o.Segments {
		if err := exec(ctx, w, w.putSegment, w.segments, &o.Segments[i]); err != nil {
			return err
		}
	}
	return nil
}

// forget drops the rows of what the log held before, unless another log still
// holds it. It reports whether a newer version has put the log: all then stays.
func (w *writer) forget(ctx context.Context, o *fleet.Outcome) (newer bool, err error) {
	var before, version string
	err = w.heldBy.QueryRowContext(ctx, o.Log.Path).Scan(&before, &version)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return false, nil
	case err != nil:
		return false, err
	case fleet.Newer(version, o.Log.Version):
		return true, nil
	case before == o.Log.Content || before == "":
		return false, nil
	}
	var others int
	if err := w.stillHeld.QueryRowContext(ctx, before, o.Log.Path).Scan(&others); err != nil || others > 0 {
		return false, err
	}
	return false, w.drop(ctx, before)
}

// owner reports whether there are rides of the content, and whether they stay
// with the log that they belong to.
func (w *writer) owner(ctx context.Context, o *fleet.Outcome) (held, stay bool, err error) {
	var path, version string
	err = w.ownerOf.QueryRowContext(ctx, o.Log.Content).Scan(&path, &version)
	if errors.Is(err, sql.ErrNoRows) {
		return false, false, nil
	}
	return true, err == nil && o.Yields(path, version), err
}

// drop deletes every row of a content.
func (w *writer) drop(ctx context.Context, content string) error {
	for _, s := range []*sql.Stmt{w.dropRides, w.dropHabits, w.dropSegment} {
		if _, err := s.ExecContext(ctx, content); err != nil {
			return err
		}
	}
	return nil
}

func exec[Row any](ctx context.Context, w *writer, statement *sql.Stmt, columns []fleet.Column[Row], row *Row) error {
	w.values = w.values[:0]
	for _, c := range columns {
		w.values = append(w.values, store.Out(c.Value(row)))
	}
	_, err := statement.ExecContext(ctx, w.values...)
	return err
}

func insert(table string, names []string) string {
	return "INSERT OR REPLACE INTO " + table + " (" + strings.Join(names, ", ") + ") VALUES (?" + strings.Repeat(", ?", len(names)-1) + ")"
}

// Assign hands logs and their rides to others.
func (s *Store) Assign(ctx context.Context, logs []fleet.Log) error {
	return s.within(ctx, func(tx *sql.Tx) error {
		for _, l := range logs {
			for _, table := range []string{"logs", "rides"} {
				if _, err := tx.ExecContext(ctx, "UPDATE "+table+" SET bike = ?, rider = ?, team = ? WHERE path = ?", l.Bike, l.Rider, l.Group, l.Path); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

// Forget lets the logs of a rider go. Their bytes are gone from the file and its
// log when it returns without an error.
func (s *Store) Forget(ctx context.Context, rider string) (logs int64, err error) {
	return s.wipe(ctx, store.ForgetStatements("?1"), rider)
}

// ForgetBefore lets the logs go that began before a moment, as Forget does.
func (s *Store) ForgetBefore(ctx context.Context, moment time.Time) (logs int64, err error) {
	return s.wipe(ctx, store.ForgetBeforeStatements("?1"), moment.Unix())
}

// wipe deletes rows and what SQLite keeps of them: secure_delete, set on every
// connection, writes zeros over a row; VACUUM writes the file anew, without the
// copies that pages carry in their unused parts; the checkpoint empties the
// write-ahead log. Forgetting once more wipes what an interrupted wipe has left.
func (s *Store) wipe(ctx context.Context, statements []string, argument any) (logs int64, err error) {
	err = s.within(ctx, func(tx *sql.Tx) error {
		for _, statement := range statements {
			done, err := tx.ExecContext(ctx, statement, argument)
			if err != nil {
				return err
			}
			if logs, err = done.RowsAffected(); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return 0, err
	}
	if _, err := s.db.ExecContext(ctx, "VACUUM"); err != nil {
		return logs, s.explain(err)
	}
	var busy, frames, moved int64
	if err := s.db.QueryRowContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)").Scan(&busy, &frames, &moved); err != nil {
		return logs, s.explain(err)
	}
	if busy != 0 {
		return logs, fmt.Errorf("store %s: the rows are deleted, but another program has the store open, so that their bytes still lie in its -wal file; end that program and run the same command again", s.path)
	}
	return logs, nil
}
