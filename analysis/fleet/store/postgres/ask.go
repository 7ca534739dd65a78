package postgres

import (
	"context"
	"iter"

	"github.com/jackc/pgx/v5"
	"golang.org/x/sync/errgroup"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
)

// atOnce is how many questions of a summary are asked side by side. Each is
// one pass over a table, for which the server uses one or few cores.
const atOnce = 4

// Sums answers the questions of a summary, all from one snapshot.
func (s *Store) Sums(ctx context.Context, q store.Question) (fleet.Sums, error) {
	var sums fleet.Sums
	span := store.ByWeek
	if q.Monthly {
		span = store.ByMonth
	}
	var all []fleet.Tally
	questions := []func(context.Context, pgx.Tx) error{
		question(store.CellQuery(q), store.ScanCell, &sums.Cells),
		question(store.HabitQuery(), store.ScanHabit, &sums.Habits),
		question(store.TallyQuery(span), store.ScanTally, &sums.Spans),
		question(store.TallyQuery(store.ByBike), store.ScanTally, &sums.Bikes),
		question(store.TallyQuery(store.ByRider), store.ScanTally, &sums.Riders),
		question(store.TallyQuery(store.ByGroup), store.ScanTally, &sums.Groups),
		question(store.TallyQuery(store.ByAll), store.ScanTally, &all),
		question(store.ProblemQuery(q), store.ScanProblem, &sums.Problems),
		func(ctx context.Context, tx pgx.Tx) error {
			return tx.QueryRow(ctx, store.LogsQuery()).Scan(&sums.Logs, &sums.Duplicates)
		},
	}
	reading := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	err := pgx.BeginTxFunc(ctx, s.pool, reading, func(tx pgx.Tx) error {
		var snapshot string
		if err := tx.QueryRow(ctx, "SELECT pg_export_snapshot()").Scan(&snapshot); err != nil {
			return err
		}
		g, ctx := errgroup.WithContext(ctx)
		g.SetLimit(atOnce)
		for _, ask := range questions {
			g.Go(func() error {
				return pgx.BeginTxFunc(ctx, s.pool, reading, func(tx pgx.Tx) error {
					if _, err := tx.Exec(ctx, "SET TRANSACTION SNAPSHOT '"+snapshot+"'; SET LOCAL jit = off; SET LOCAL work_mem = '64MB'"); err != nil {
						return err
					}
					return ask(ctx, tx)
				})
			})
		}
		return g.Wait()
	})
	if err != nil {
		return sums, s.explain(err)
	}
	sums.All = all[0]
	return sums, nil
}

// question reads every row of a query.
func question[T any](query string, scan func(func(...any) error) (T, error), into *[]T) func(context.Context, pgx.Tx) error {
	return func(ctx context.Context, tx pgx.Tx) error {
		found, err := tx.Query(ctx, query)
		if err != nil {
			return err
		}
		*into, err = pgx.CollectRows(found, func(row pgx.CollectableRow) (T, error) { return scan(row.Scan) })
		return err
	}
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
		found, err := s.pool.Query(ctx, query, args...)
		if err != nil {
			yield(nil, s.explain(err))
			return
		}
		defer found.Close()
		store.Each(found, columns, s.explain, yield)
	}
}
