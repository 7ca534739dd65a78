package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"iter"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
)

// Known gives what is stored of the paths.
func (s *Store) Known(ctx context.Context, paths []string) (map[string]fleet.Log, error) {
	list, err := json.Marshal(paths)
	if err != nil {
		return nil, err
	}
	known := make(map[string]fleet.Log, len(paths))
	columns := fleet.LogColumns()
	query := store.RowsQuery(columns, "logs", "WHERE path IN (SELECT value FROM json_each(?))")
	for l, err := range rows(ctx, s, columns, query, string(list)) {
		if err != nil {
			return nil, err
		}
		known[l.Path] = *l
	}
	return known, nil
}

// Owner gives the log that the rides of a content belong to.
func (s *Store) Owner(ctx context.Context, content string) (fleet.Log, bool, error) {
	l := fleet.Log{Content: content}
	err := s.owner.QueryRowContext(ctx, content).
		Scan(&l.Path, &l.Bike, &l.Rider, &l.Group, &l.Profile, &l.Version)
	if errors.Is(err, sql.ErrNoRows) {
		return l, false, nil
	}
	return l, err == nil, s.explain(err)
}

// Sums answers the questions of a summary within one reading transaction.
func (s *Store) Sums(ctx context.Context, q store.Question) (fleet.Sums, error) {
	var sums fleet.Sums
	tx, err := s.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return sums, s.explain(err)
	}
	defer tx.Rollback()
	var tallies store.Tallies
	overlapping, err := collect(ctx, tx, store.OverlapQuery(), store.ScanSpan)
	if err != nil {
		return sums, s.explain(err)
	}
	counted, args := store.AllRides, []any(nil)
	if sums.Doubles = fleet.Doubles(overlapping); len(sums.Doubles) > 0 {
		keys, err := json.Marshal(store.DoubleKeys(sums.Doubles))
		if err != nil {
			return sums, err
		}
		counted, args = store.Without("(SELECT value FROM json_each(?1))"), []any{string(keys)}
	}
	parts := []struct {
		by   store.By
		into *[]store.Part
	}{{store.ByBike, &tallies.Bikes}, {store.ByRider, &tallies.Riders}, {q.Span(), &tallies.Spans}}
	for _, p := range parts {
		if *p.into, err = collect(ctx, tx, store.PartQuery(p.by, counted), store.PartScanner(), args...); err != nil {
			return sums, s.explain(err)
		}
	}
	if tallies.Census, err = census(ctx, tx, store.CensusQuery(q, counted), args); err != nil {
		return sums, s.explain(err)
	}
	if sums.Versions, err = collect(ctx, tx, store.VersionQuery(counted), store.ScanVersion, args...); err != nil {
		return sums, s.explain(err)
	}
	tallies.Finish(&sums)
	if sums.Habits, err = collect(ctx, tx, store.HabitQuery(counted), store.ScanHabit, args...); err != nil {
		return sums, s.explain(err)
	}
	if sums.Cells, err = collect(ctx, tx, store.CellQuery(q, counted), store.ScanCell, args...); err != nil {
		return sums, s.explain(err)
	}
	sums.Problems, err = collect(ctx, tx, store.ProblemQuery(q), store.ScanProblem)
	if err != nil {
		return sums, s.explain(err)
	}
	err = tx.QueryRowContext(ctx, store.LogsQuery()).Scan(&sums.Logs, &sums.Duplicates)
	return sums, s.explain(err)
}

func census(ctx context.Context, tx *sql.Tx, query string, args []any) (*store.Census, error) {
	rides, err := tx.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer rides.Close()
	return store.TakeCensus(rides)
}

// collect reads every row of a query.
func collect[T any](ctx context.Context, tx *sql.Tx, query string, scan func(func(...any) error) (T, error), args ...any) ([]T, error) {
	found, err := tx.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, err
	}
	defer found.Close()
	var all []T
	for found.Next() {
		row, err := scan(found.Scan)
		if err != nil {
			return nil, err
		}
		all = append(all, row)
	}
	return all, found.Err()
}

// Rides gives every ride.
func (s *Store) Rides(ctx context.Context) iter.Seq2[*fleet.Ride, error] {
	return every(ctx, s, fleet.RideColumns(), "rides", "content, part")
}

// Habits gives every habit.
func (s *Store) Habits(ctx context.Context) iter.Seq2[*fleet.Habit, error] {
	return every(ctx, s, fleet.HabitColumns(), "habits", "content, part, kind")
}

// Segments gives every stretch of lugging.
func (s *Store) Segments(ctx context.Context) iter.Seq2[*fleet.Segment, error] {
	return every(ctx, s, fleet.SegmentColumns(), "segments", "content, part, number")
}

// Logs gives every log.
func (s *Store) Logs(ctx context.Context) iter.Seq2[*fleet.Log, error] {
	return every(ctx, s, fleet.LogColumns(), "logs", "path")
}

func every[Row any](ctx context.Context, s *Store, columns []fleet.Column[Row], table, order string) iter.Seq2[*Row, error] {
	return rows(ctx, s, columns, store.RowsQuery(columns, table, "ORDER BY "+order))
}

// rows reads a query whose columns are those given.
func rows[Row any](ctx context.Context, s *Store, columns []fleet.Column[Row], query string, args ...any) iter.Seq2[*Row, error] {
	return func(yield func(*Row, error) bool) {
		found, err := s.db.QueryContext(ctx, query, args...)
		if err != nil {
			yield(nil, s.explain(err))
			return
		}
		defer found.Close()
		store.Each(found, columns, s.explain, yield)
	}
}
