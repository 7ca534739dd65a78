package sqlite

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"cogledger/analysis/fleet/store"
)

// applicationID marks the file as one of ours: "cogl".
const applicationID = 0x636f676c

// schemas holds one script a version; version n is schema/00n.sql, and each
// starts where the one before it ends. Columns of rows that came later need no
// script: they follow from store.Tables.
//
//go:embed schema/*.sql
var schemas embed.FS

const newestSchema = 2

// prepareInTurn is prepare that waits while another process makes the store:
// SQLite itself does not wait for a file that is being turned to a write-ahead log.
func (s *Store) prepareInTurn(ctx context.Context) error {
	const pause = 20 * time.Millisecond
	for until := time.Now().Add(patience); ; {
		err := s.prepare(ctx)
		var failed *sqlite.Error
		if !errors.As(err, &failed) || failed.Code()&0xff != sqlite3.SQLITE_BUSY || time.Now().After(until) {
			return err
		}
		select {
		case <-ctx.Done():
			return context.Cause(ctx)
		case <-time.After(pause):
		}
	}
}

// errOutdated tells that a store lacks what this program reads.
var errOutdated = errors.New("made by an earlier cogledger")

// upToDate reports errOutdated where prepare would write.
func (s *Store) upToDate(ctx context.Context) error {
	version, err := s.version(ctx)
	if err != nil {
		return err
	}
	lacking, err := missing(ctx, s.db)
	if err == nil && (version != newestSchema || len(lacking) > 0) {
		err = errOutdated
	}
	return err
}

// prepare brings the file to the newest schema.
func (s *Store) prepare(ctx context.Context) error {
	version, err := s.version(ctx)
	if err != nil {
		return err
	}
	if version == newestSchema {
		if missing, err := missing(ctx, s.db); err != nil || len(missing) == 0 {
			return err
		}
	}
	return s.within(ctx, func(tx *sql.Tx) error {
		// Another process may have been here since: look again, now alone.
		if err := tx.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version); err != nil {
			return err
		}
		for v := version + 1; v <= newestSchema; v++ {
			script, err := schemas.ReadFile(fmt.Sprintf("schema/%03d.sql", v))
			if err != nil {
				return err
			}
			if _, err := tx.ExecContext(ctx, string(script)); err != nil {
				return fmt.Errorf("schema version %d: %w", v, err)
			}
			if v == 1 {
				if _, err := tx.ExecContext(ctx, "INSERT INTO secrets (name, value) VALUES ('pseudonyms', ?)", newKey()); err != nil {
					return err
				}
			}
		}
		statements, err := missing(ctx, tx)
		if err != nil {
			return err
		}
		for _, statement := range statements {
			if _, err := tx.ExecContext(ctx, statement); err != nil {
				return fmt.Errorf("%s: %w", statement, err)
			}
		}
		_, err = tx.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, newestSchema))
		return err
	})
}

// missing gives the statements that add columns which the tables lack.
func missing(ctx context.Context, db interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}) ([]string, error) {
	types := store.Types{
		Text: "TEXT NOT NULL DEFAULT ''", Whole: "INTEGER NOT NULL DEFAULT 0", Real: "REAL",
		Truth: "INTEGER NOT NULL DEFAULT 0", Time: "INTEGER",
	}
	found, err := db.QueryContext(ctx, "SELECT t.name, c.name FROM sqlite_master t, pragma_table_info(t.name) c WHERE t.type = 'table'")
	if err != nil {
		return nil, err
	}
	defer found.Close()
	there := make(map[string][]string)
	for found.Next() {
		var table, column string
		if err := found.Scan(&table, &column); err != nil {
			return nil, err
		}
		there[table] = append(there[table], column)
	}
	var statements []string
	for _, t := range store.Tables() {
		statements = append(statements, t.Missing(there[t.Name], types)...)
	}
	return statements, found.Err()
}

// version reads the schema's version, 0 for an empty file. A database of
// another program, or of a later cogledger, is an error.
func (s *Store) version(ctx context.Context) (int, error) {
	var version, application, tables int
	// One statement, so that another process cannot make the store in between.
	err := s.db.QueryRowContext(ctx, "SELECT user_version, application_id, (SELECT COUNT(*) FROM sqlite_master) FROM pragma_user_version, pragma_application_id").Scan(&version, &application, &tables)
	if err != nil {
		return 0, err
	}
	switch {
	case tables > 0 && application != applicationID:
		return 0, fmt.Errorf("store %s: this is a database of another program; name another file", s.path)
	case version > newestSchema:
		return 0, fmt.Errorf("store %s: made by a later cogledger (schema %d, this one knows %d); use that one, or name another file", s.path, version, newestSchema)
	}
	return version, nil
}
