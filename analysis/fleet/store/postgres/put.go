package postgres

import (
	"context"
	"fmt"
	"hash/fnv"
	"maps"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
)

// attempts is how often a call is made again that another was in the way of.
const attempts = 5

// Put stores outcomes in one transaction, the rows by COPY.
func (s *Store) Put(ctx context.Context, outcomes []fleet.Outcome) error {
	if len(outcomes) == 0 {
		return nil
	}
	return s.within(ctx, func(tx pgx.Tx) error {
		c, err := begin(ctx, tx, outcomes)
		if err != nil {
			return err
		}
		for i := range outcomes {
			c.put(&outcomes[i])
		}
		return c.write(ctx, tx)
	})
}

// Assign hands logs and their rides to others.
func (s *Store) Assign(ctx context.Context, logs []fleet.Log) error {
	return s.within(ctx, func(tx pgx.Tx) error {
		paths := make([]string, len(logs))
		for i, l := range logs {
			paths[i] = text(l.Path)
		}
		if err := lockAll(ctx, tx, pathLocks, paths); err != nil {
			return err
		}
		var batch pgx.Batch
		for i, l := range logs {
			for _, table := range []string{"logs", "rides"} {
				batch.Queue("UPDATE "+table+" SET bike = $1, rider = $2, team = $3 WHERE path = $4", text(l.Bike), text(l.Rider), text(l.Group), paths[i])
			}
		}
		return tx.SendBatch(ctx, &batch).Close()
	})
}

// Forget lets the logs of a rider go.
func (s *Store) Forget(ctx context.Context, rider string) (logs int64, err error) {
	return s.wipe(ctx, store.ForgetStatements("$1"), text(rider))
}

// ForgetBefore lets the logs go that began before a moment.
func (s *Store) ForgetBefore(ctx context.Context, moment time.Time) (logs int64, err error) {
	return s.wipe(ctx, store.ForgetBeforeStatements("$1"), moment.Unix())
}

// wipe deletes rows, and has the server write its tables anew without them.
// The server's own log, replicas and backups are beyond its reach.
func (s *Store) wipe(ctx context.Context, statements []string, argument any) (logs int64, err error) {
	err = s.within(ctx, func(tx pgx.Tx) error {
		for _, statement := range statements {
			done, err := tx.Exec(ctx, statement, argument)
			if err != nil {
				return err
			}
			logs = done.RowsAffected()
		}
		return nil
	})
	if err != nil {
		return 0, err
	}
	for _, table := range []string{"rides", "habits", "segments", "logs"} {
		if _, err := s.pool.Exec(ctx, "VACUUM (FULL, ANALYZE) "+table); err != nil {
			return logs, fmt.Errorf("the rows are deleted, but the server has not written %s anew without them: %w; run VACUUM FULL as the tables' owner", table, s.explain(err))
		}
	}
	return logs, nil
}

// within runs f in a transaction that is kept only when f and the commit
// succeed.
func (s *Store) within(ctx context.Context, f func(pgx.Tx) error) error {
	var err error
	for range attempts {
		if err = pgx.BeginFunc(ctx, s.pool, f); err == nil || !passing(err) {
			break
		}
	}
	return s.explain(err)
}

// Locks are taken class by class and in order of their numbers, so that no two
// transactions wait for each other. They are few, since the server's table of
// locks is small: paths and contents share them by hash.
const (
	pathLocks    = 0x636f6701
	contentLocks = 0x636f6702
	locks        = 256
)

func lockAll(ctx context.Context, tx pgx.Tx, class int32, names []string) error {
	var numbers []int32
	for _, name := range names {
		h := fnv.New32a()
		h.Write([]byte(name))
		numbers = append(numbers, int32(h.Sum32()%locks))
	}
	slices.Sort(numbers)
	_, err := tx.Exec(ctx, "SELECT pg_advisory_xact_lock($1, n) FROM unnest($2::int[]) WITH ORDINALITY AS u(n, k) ORDER BY k", class, slices.Compact(numbers))
	return err
}

// changes is what one Put makes of the rows it touches: the state of the
// database before, and what is to be written.
type changes struct {
	before  map[string]held                // by path: what is stored of the log
	holders map[string]map[string]struct{} // by content: paths of the logs that hold it
	owners  map[string]owner               // by content: whose its rides are

	logs    map[string]*fleet.Log     // to write, by path
	rides   map[string]*fleet.Outcome // to write, by content
	dropped map[string]struct{}       // contents whose rows go
}

// held is what a log holds, and the version that found it.
type held struct{ content, version string }

// owner is the log that the rides of a content belong to.
type owner struct{ path, version string }

// begin takes the locks that keep others away from these logs and contents,
// and reads what is stored of them.
func begin(ctx context.Context, tx pgx.Tx, outcomes []fleet.Outcome) (*changes, error) {
	c := &changes{
		before: map[string]held{}, holders: map[string]map[string]struct{}{}, owners: map[string]owner{},
		logs: map[string]*fleet.Log{}, rides: map[string]*fleet.Outcome{}, dropped: map[string]struct{}{},
	}
	var paths, contents []string
	for i := range outcomes {
		paths = append(paths, text(outcomes[i].Log.Path))
		contents = append(contents, text(outcomes[i].Log.Content))
	}
	if err := lockAll(ctx, tx, pathLocks, paths); err != nil {
		return nil, err
	}
	found, err := tx.Query(ctx, "SELECT path, content, version FROM logs WHERE path = ANY($1)", paths)
	if err != nil {
		return nil, err
	}
	var path, content, version string
	if _, err = pgx.ForEachRow(found, []any{&path, &content, &version}, func() error {
		c.before[path] = held{content, version}
		contents = append(contents, content)
		return nil
	}); err != nil {
		return nil, err
	}
	if err := lockAll(ctx, tx, contentLocks, contents); err != nil {
		return nil, err
	}
	if found, err = tx.Query(ctx, "SELECT path, content FROM logs WHERE content = ANY($1)", contents); err != nil {
		return nil, err
	}
	if _, err = pgx.ForEachRow(found, []any{&path, &content}, func() error {
		c.hold(path, content)
		return nil
	}); err != nil {
		return nil, err
	}
	if found, err = tx.Query(ctx, "SELECT DISTINCT ON (content) content, path, version FROM rides WHERE content = ANY($1) ORDER BY content, part", contents); err != nil {
		return nil, err
	}
	_, err = pgx.ForEachRow(found, []any{&content, &path, &version}, func() error {
		c.owners[content] = owner{path, version}
		return nil
	})
	return c, err
}

func (c *changes) hold(path, content string) {
	if c.holders[content] == nil {
		c.holders[content] = map[string]struct{}{}
	}
	c.holders[content][path] = struct{}{}
}

// put enters an outcome.
func (c *changes) put(o *fleet.Outcome) {
	path, content := text(o.Log.Path), text(o.Log.Content)
	before, known := c.before[path]
	if known && fleet.Newer(before.version, o.Log.Version) {
		return
	}
	if known && before.content != content {
		delete(c.holders[before.content], path)
		if before.content != "" && len(c.holders[before.content]) == 0 {
			c.drop(before.content)
		}
	}
	c.before[path] = held{content, o.Log.Version}
	c.hold(path, content)
	c.logs[path] = &o.Log
	if o.Known {
		return
	}
	if at, ok := c.owners[content]; ok && o.Yields(at.path, at.version) {
		return
	}
	c.drop(content)
	if len(o.Rides) > 0 {
		c.rides[content] = o
		c.owners[content] = owner{text(o.Rides[0].Path), o.Rides[0].Version}
	}
}

// drop lets every row of a content go.
func (c *changes) drop(content string) {
	c.dropped[content] = struct{}{}
	delete(c.rides, content)
	delete(c.owners, content)
}

// write makes the changes.
func (c *changes) write(ctx context.Context, tx pgx.Tx) error {
	dropped := slices.Sorted(maps.Keys(c.dropped))
	for _, table := range []string{"rides", "habits", "segments"} {
		if _, err := tx.Exec(ctx, "DELETE FROM "+table+" WHERE content = ANY($1)", dropped); err != nil {
			return err
		}
	}
	paths := slices.Sorted(maps.Keys(c.logs))
	if _, err := tx.Exec(ctx, "DELETE FROM logs WHERE path = ANY($1)", paths); err != nil {
		return err
	}
	var logs []*fleet.Log
	var rides []*fleet.Ride
	var habits []*fleet.Habit
	var segments []*fleet.Segment
	for _, path := range paths {
		logs = append(logs, c.logs[path])
	}
	for _, content := range slices.Sorted(maps.Keys(c.rides)) {
		o := c.rides[content]
		rides, habits, segments = pointers(rides, o.Rides), pointers(habits, o.Habits), pointers(segments, o.Segments)
	}
	if err := fill(ctx, tx, "logs", fleet.LogColumns(), logs); err != nil {
		return err
	}
	if err := fill(ctx, tx, "rides", fleet.RideColumns(), rides); err != nil {
		return err
	}
	if err := fill(ctx, tx, "habits", fleet.HabitColumns(), habits); err != nil {
		return err
	}
	return fill(ctx, tx, "segments", fleet.SegmentColumns(), segments)
}

func pointers[Row any](to []*Row, rows []Row) []*Row {
	for i := range rows {
		to = append(to, &rows[i])
	}
	return to
}

// fill copies rows into a table.
func fill[Row any](ctx context.Context, tx pgx.Tx, table string, columns []fleet.Column[Row], rows []*Row) error {
	if len(rows) == 0 {
		return nil
	}
	values := make([]any, len(columns))
	_, err := tx.CopyFrom(ctx, pgx.Identifier{table}, store.Names(columns), pgx.CopyFromSlice(len(rows), func(i int) ([]any, error) {
		for k, c := range columns {
			values[k] = store.Out(c.Value(rows[i]))
			if s, is := values[k].(string); is {
				values[k] = text(s)
			}
		}
		return values, nil
	}))
	return err
}
