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
)

// applicationID marks the file as one of ours: "cogl".
const applicationID = 0x636f676c

// schemas holds one script a version; version n is schema/00n.sql, and each
// starts where the one before it ends.
//
//go:embed schema/*.sql
var schemas embed.FS

const newestSchema = 1

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

// prepare brings the file to the newest schema.
func (s *Store) prepare(ctx context.Context) error {
	version, err := s.version(ctx)
	if err != nil {
		return err
	}
	if version == newestSchema {
		return nil
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
		_, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, newestSchema))
		return err
	})
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
