package postgres

import (
	"context"
	"iter"
	"strings"

	"github.com/jackc/pgx/v5"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
)

// Sums answers the questions of a summary within one reading transaction.
func (s *Store) Sums(ctx context.Context, q store.Question) (fleet.Sums, error) {
	var sums fleet.Sums
	err := pgx.BeginTxFunc(ctx, s.pool, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) (err error) {
		sums, err = ask(ctx, tx, q)
		return err
	})
	return sums, s.explain(err)
}

func ask(ctx context.Context, tx pgx.Tx, q store.Question) (sums fleet.Sums, err error) {
	span := store.ByWeek
	if q.Monthly {
		span = store.ByMonth
	}
	var all []fleet.Tally
	tallies := []struct {
		by   store.By
		into *[]fleet.Tally
	}{{store.ByAll, &all}, {store.ByBike, &sums.Bikes}, {store.ByRider, &sums.Riders}, {store.ByGroup, &sums.Groups}, {span, &sums.Spans}}
	for _, t := range tallies {
		if *t.into, err = collect(ctx, tx, store.TallyQuery(t.by), store.ScanTally); err != nil {
			return sums, err
		}
	}
	sums.All = all[0]
	if sums.Habits, err = collect(ctx, tx, store.HabitQuery(), store.ScanHabit); err != nil {
		return sums, err
	}
	if sums.Cells, err = collect(ctx, tx, store.CellQuery(q), store.ScanCell); err != nil {
		return sums, err
	}
	sums.Problems, err = collect(ctx, tx, store.ProblemQuery(q), func(scan func(...any) error) (fleet.Problem, error) {
		var p fleet.Problem
		return p, scan(&p.Path, &p.Text)
	})
	if err != nil {
		return sums, err
	}
	return sums, tx.QueryRow(ctx, store.LogsQuery()).Scan(&sums.Logs, &sums.Duplicates)
}

// collect reads every row of a query.
func collect[T any](ctx context.Context, tx pgx.Tx, query string, scan func(func(...any) error) (T, error)) ([]T, error) {
	found, err := tx.Query(ctx, query)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(found, func(row pgx.CollectableRow) (T, error) { return scan(row.Scan) })
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
	return rows(ctx, s, columns, "SELECT "+strings.Join(store.Names(columns), ", ")+" FROM "+table+" ORDER BY "+order)
}

// rows reads a query whose columns are those given.
func rows[Row any](ctx context.Context, s *Store, columns []fleet.Column[Row], query string, args ...any) iter.Seq2[*Row, error] {
	return func(yield func(*Row, error) bool) {
		found, err := s.pool.Query(ctx, query, args...)
		if err != nil {
			yield(nil, s.explain(err))
			return
		}
		defer found.Close()
		row := new(Row)
		into := make([]any, len(columns))
		for i, c := range columns {
			into[i] = store.Into(c.At(row))
		}
		for found.Next() {
			if err := found.Scan(into...); err != nil {
				yield(nil, s.explain(err))
				return
			}
			if !yield(row, nil) {
				return
			}
		}
		if err := found.Err(); err != nil {
			yield(nil, s.explain(err))
		}
	}
}
