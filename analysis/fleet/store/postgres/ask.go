package postgres

import (
	"context"
	"iter"

	"github.com/jackc/pgx/v5"
	"golang.org/x/sync/errgroup"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
)

// atOnce is how many questions of a summary are asked side by side, the longest
// first: that of the cells alone takes a third of all the work. The server uses
// one core for each.
const atOnce = 3

// settings of a question. Reading always from a table's start, in one process,
// adds the same numbers in the same order: the page of a store is always the
// same, to the last digit.
const settings = "SET LOCAL synchronize_seqscans = off; SET LOCAL max_parallel_workers_per_gather = 0; SET LOCAL jit = off; SET LOCAL work_mem = '64MB'"

// Sums answers the questions of a summary, all from one snapshot.
func (s *Store) Sums(ctx context.Context, q store.Question) (fleet.Sums, error) {
	var sums fleet.Sums
	var tallies store.Tallies
	var counted store.Counted
	var args []any
	questions := func() []func(context.Context, pgx.Tx) error {
		return []func(context.Context, pgx.Tx) error{
			question(store.CellQuery(q, counted), store.ScanCell, &sums.Cells, args...),
			question(store.HabitQuery(counted), store.ScanHabit, &sums.Habits, args...),
			hashing(question(store.PartQuery(store.ByBike, counted), store.PartScanner(), &tallies.Bikes, args...)),
			hashing(question(store.PartQuery(store.ByRider, counted), store.PartScanner(), &tallies.Riders, args...)),
			hashing(question(store.PartQuery(q.Span(), counted), store.PartScanner(), &tallies.Spans, args...)),
			func(ctx context.Context, tx pgx.Tx) error {
				rides, err := tx.Query(ctx, store.CensusQuery(q, counted), args...)
				if err != nil {
					return err
				}
				defer rides.Close()
				tallies.Census, err = store.TakeCensus(rides)
				return err
			},
			func(ctx context.Context, tx pgx.Tx) error {
				return tx.QueryRow(ctx, store.LogsQuery()).Scan(&sums.Logs, &sums.Duplicates)
			},
			question(store.VersionQuery(counted), store.ScanVersion, &sums.Versions, args...),
			question(store.ProblemQuery(q), store.ScanProblem, &sums.Problems),
		}
	}
	reading := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	err := pgx.BeginTxFunc(ctx, s.pool, reading, func(tx pgx.Tx) error {
		var snapshot string
		if err := tx.QueryRow(ctx, "SELECT pg_export_snapshot()").Scan(&snapshot); err != nil {
			return err
		}
		var overlapping []fleet.Span
		if err := question(store.OverlapQuery(), store.ScanSpan, &overlapping)(ctx, tx); err != nil {
			return err
		}
		counted = store.AllRides
		if sums.Doubles = fleet.Doubles(overlapping); len(sums.Doubles) > 0 {
			counted, args = store.Without("(SELECT unnest($1::text[]))"), []any{store.DoubleKeys(sums.Doubles)}
		}
		g, ctx := errgroup.WithContext(ctx)
		g.SetLimit(atOnce)
		for _, ask := range questions() {
			g.Go(func() error {
				return pgx.BeginTxFunc(ctx, s.pool, reading, func(tx pgx.Tx) error {
					if _, err := tx.Exec(ctx, "SET TRANSACTION SNAPSHOT '"+snapshot+"'; "+settings); err != nil {
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
	tallies.Finish(&sums)
	return sums, nil
}

// hashing keeps the server from sorting the rides for a tally. It would, since
// it takes weeks to be as many as the starts of rides, and bikes in groups as
// many as bikes times groups.
func hashing(ask func(context.Context, pgx.Tx) error) func(context.Context, pgx.Tx) error {
	return func(ctx context.Context, tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, "SET LOCAL enable_sort = off"); err != nil {
			return err
		}
		return ask(ctx, tx)
	}
}

// question reads every row of a query.
func question[T any](query string, scan func(func(...any) error) (T, error), into *[]T, args ...any) func(context.Context, pgx.Tx) error {
	return func(ctx context.Context, tx pgx.Tx) error {
		found, err := tx.Query(ctx, query, args...)
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
