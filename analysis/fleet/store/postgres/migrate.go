package postgres

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"

	"cogledger/analysis/fleet/store"
)

// versions is the table that tells which scripts have run.
const versions = "schema_versions"

// schemas holds one script a version, in order.
//
//go:embed schema/*.sql
var schemas embed.FS

// prepare brings the tables to the newest schema. Where they are of it, nothing
// is written: a role that may only read can report.
func (s *Store) prepare(ctx context.Context) error {
	scripts, err := fs.Glob(schemas, "schema/*.sql")
	if err != nil {
		return err
	}
	newest := int64(len(scripts))
	version, err := s.version(ctx)
	switch {
	case err != nil:
		return err
	case version == newest:
		return s.grow(ctx)
	case version > newest:
		return fmt.Errorf("store %s: made by a later cogledger (schema %d, this one knows %d); use that one, or name another database", s.name, version, newest)
	}
	err = pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		// Two that make the schema at the same moment would meet in an error.
		if _, err := tx.Exec(ctx, "SELECT pg_advisory_xact_lock(hashtext($1))", Schema); err != nil {
			return err
		}
		// Asking first spares a role that owns the schema the right to make one.
		var there bool
		if err := tx.QueryRow(ctx, "SELECT EXISTS (SELECT 1 FROM pg_namespace WHERE nspname = $1)", Schema).Scan(&there); err != nil || there {
			return err
		}
		_, err := tx.Exec(ctx, "CREATE SCHEMA "+Schema)
		return err
	})
	if err != nil {
		return err
	}
	if err := s.migrate(ctx); err != nil {
		return err
	}
	return s.grow(ctx)
}

// grow adds the columns of rows that the tables lack, if any. Two may do it at
// once.
func (s *Store) grow(ctx context.Context) error {
	types := store.Types{
		Text: `TEXT COLLATE "C" NOT NULL DEFAULT ''`, Whole: "BIGINT NOT NULL DEFAULT 0", Real: "DOUBLE PRECISION",
		Truth: "BOOLEAN NOT NULL DEFAULT false", Time: "BIGINT",
	}
	found, err := s.pool.Query(ctx, "SELECT c.relname, a.attname FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace JOIN pg_attribute a ON a.attrelid = c.oid WHERE n.nspname = $1 AND a.attnum > 0 AND NOT a.attisdropped", Schema)
	if err != nil {
		return err
	}
	there := make(map[string][]string)
	var table, column string
	if _, err := pgx.ForEachRow(found, []any{&table, &column}, func() error {
		there[table] = append(there[table], column)
		return nil
	}); err != nil {
		return err
	}
	for _, t := range store.Tables() {
		for _, statement := range t.Missing(there[t.Name], types) {
			if _, err := s.pool.Exec(ctx, strings.Replace(statement, "ADD COLUMN", "ADD COLUMN IF NOT EXISTS", 1)); err != nil {
				return err
			}
		}
	}
	return nil
}

// migrate runs the scripts that have not run, each in a transaction of its
// own, while no other process does.
func (s *Store) migrate(ctx context.Context) (err error) {
	db := stdlib.OpenDBFromPool(s.pool)
	defer func() { err = errors.Join(err, db.Close()) }()
	folder, err := fs.Sub(schemas, "schema")
	if err != nil {
		return err
	}
	locker, err := lock.NewPostgresSessionLocker()
	if err != nil {
		return err
	}
	p, err := goose.NewProvider(goose.DialectPostgres, db, folder, goose.WithSessionLocker(locker), goose.WithTableName(versions), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return err
	}
	_, err = p.Up(ctx)
	return err
}

// version is the number of the last script that has run, 0 where none has.
// Tables of another program in our schema are an error.
func (s *Store) version(ctx context.Context) (int64, error) {
	var kept bool
	var others int
	err := s.pool.QueryRow(ctx, "SELECT EXISTS (SELECT 1 FROM pg_tables WHERE schemaname = $1 AND tablename = $2), (SELECT COUNT(*) FROM pg_tables WHERE schemaname = $1)", Schema, versions).
		Scan(&kept, &others)
	if err != nil {
		return 0, err
	}
	if !kept {
		if others > 0 {
			return 0, fmt.Errorf("store %s: the schema %s holds tables of another program; name another database", s.name, Schema)
		}
		return 0, nil
	}
	var version sql.NullInt64
	err = s.pool.QueryRow(ctx, "SELECT MAX(version_id) FROM "+versions+" WHERE is_applied").Scan(&version)
	return version.Int64, err
}
