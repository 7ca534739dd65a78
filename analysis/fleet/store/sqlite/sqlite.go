// Package sqlite keeps a fleet's rows in one SQLite file.
//
// The file is in write-ahead mode: reports read while runs write, several
// processes may share it on one machine, and a killed process leaves nothing
// half written. It must not lie on a network share, where SQLite's locks do not
// hold.
package sqlite

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"cogledger/analysis/fleet/store"
)

// Store is a fleet's rows in a file.
type Store struct {
	path  string
	db    *sql.DB
	owner *sql.Stmt // asked for every log
}

var _ store.Store = (*Store)(nil)

// Open opens the store at path and makes it where there is none.
func Open(ctx context.Context, path string) (*Store, error) {
	if _, err := os.Stat(filepath.Dir(path)); err != nil {
		return nil, fmt.Errorf("store %s: the folder to keep it in: %w", path, err)
	}
	if err := reserve(path); err != nil {
		return nil, fmt.Errorf("store %s: %w", path, err)
	}
	return open(ctx, path, writing(), (*Store).prepareInTurn)
}

// OpenReading opens the store at path to read from it. Neither the file nor its
// folder need be writable, and nothing is written, but where an earlier
// cogledger made the store: it is then brought up to date.
func OpenReading(ctx context.Context, path string) (*Store, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("store %s: there is nothing to report on; name a store that a run has made: %w", path, err)
	}
	only := url.Values{"_pragma": {fmt.Sprintf("busy_timeout(%d)", patience.Milliseconds()), "cache_size(-16000)"}, "mode": {"ro"}}
	s, err := open(ctx, path, only, (*Store).upToDate)
	var failed *sqlite.Error
	if errors.As(err, &failed) && slices.Contains([]int{sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY}, failed.Code()&0xff) {
		// A write-ahead log needs files beside the store, which cannot be made
		// here. Without one the file alone is the whole store.
		if info, missing := os.Stat(path + "-wal"); missing == nil && info.Size() > 0 {
			return nil, fmt.Errorf("store %s: a run is writing to it, or was killed, and what it wrote last lies in the -wal file, which cannot be read without the right to write in the folder; wait for the run to end, or run once more: %w", path, err)
		}
		only.Set("immutable", "1")
		s, err = open(ctx, path, only, (*Store).upToDate)
	}
	if errors.Is(err, errOutdated) {
		return Open(ctx, path)
	}
	return s, err
}

// open opens the file and prepares it for use.
func open(ctx context.Context, path string, set url.Values, prepare func(*Store, context.Context) error) (*Store, error) {
	db, err := sql.Open("sqlite", source(path, set))
	if err != nil {
		return nil, fmt.Errorf("store %s: %w", path, err)
	}
	db.SetMaxOpenConns(4)
	s := &Store{path: path, db: db}
	if err := prepare(s, ctx); err != nil {
		db.Close()
		return nil, s.explain(err)
	}
	s.owner, err = db.PrepareContext(ctx, "SELECT path, bike, rider, team, profile, version FROM rides WHERE content = ? ORDER BY part LIMIT 1")
	if err != nil {
		db.Close()
		return nil, s.explain(err)
	}
	return s, nil
}

// reserve makes a new store's file for its owner alone; SQLite gives the files
// beside it the same mode. A store that is there keeps the mode it was given.
func reserve(path string) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil // there already, or SQLite says what is wrong
	}
	return f.Close()
}

// patience is how long a store that another process holds is waited for.
const patience = time.Minute

// writing is what every connection sets that may write. A commit survives the
// end of the process, however it ends; after a power cut the last commits may be
// gone, and are made again by the next run.
func writing() url.Values {
	return url.Values{"_pragma": {fmt.Sprintf("busy_timeout(%d)", patience.Milliseconds()), "journal_mode(WAL)", "synchronous(NORMAL)", "secure_delete(ON)", "cache_size(-16000)"}, "_txlock": {"immediate"}}
}

// source is the driver's name of the file.
func source(path string, set url.Values) string {
	absolute, err := filepath.Abs(path)
	if err != nil {
		absolute = path
	}
	name := url.URL{Scheme: "file", Path: filepath.ToSlash(absolute), RawQuery: set.Encode()}
	return name.String()
}

// Close closes the file.
func (s *Store) Close() error { return s.explain(errors.Join(s.owner.Close(), s.db.Close())) }

// Key is the store's secret for pseudonyms.
func (s *Store) Key(ctx context.Context) ([]byte, error) {
	var key []byte
	err := s.db.QueryRowContext(ctx, "SELECT value FROM secrets WHERE name = 'pseudonyms'").Scan(&key)
	return key, s.explain(err)
}

// within runs f in a transaction that is kept only when f and the commit
// succeed.
func (s *Store) within(ctx context.Context, f func(*sql.Tx) error) error {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return s.explain(err)
	}
	defer tx.Rollback()
	if err := f(tx); err != nil {
		return s.explain(err)
	}
	return s.explain(tx.Commit())
}

// explain says in plain words what went wrong with the file, and what to do.
func (s *Store) explain(err error) error {
	var failed *sqlite.Error
	if err == nil || !errors.As(err, &failed) {
		if err != nil && !strings.Contains(err.Error(), s.path) {
			return fmt.Errorf("store %s: %w", s.path, err)
		}
		return err
	}
	say := func(what string) error { return fmt.Errorf("store %s: %s: %w", s.path, what, err) }
	if failed.Code() == sqlite3.SQLITE_IOERR_SHORT_READ {
		return say("the file is shorter than it was; was it removed or replaced while a program had it open? End those programs, remove the file with its -wal and -shm, and run again")
	}
	switch failed.Code() & 0xff {
	case sqlite3.SQLITE_FULL:
		return say("the disk is full; what was stored before is whole: free some space and run again")
	case sqlite3.SQLITE_IOERR:
		return say("the disk does not take or give the data; is it full, or gone? What was stored before is whole")
	case sqlite3.SQLITE_NOTADB:
		return say("this file is no store; name another file, or one that does not exist yet")
	case sqlite3.SQLITE_CORRUPT:
		return say("the file is damaged; make a new store from the logs, or bring back a backup")
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return say("another process has held the store for over a minute; let it end, then run again")
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM:
		return say("it cannot be written to; check the permissions of the file and its folder")
	case sqlite3.SQLITE_CANTOPEN:
		return say("it cannot be opened; check the folder and its permissions")
	}
	return say("it failed")
}

// newKey draws the secret for pseudonyms.
func newKey() []byte {
	key := make([]byte, 32)
	rand.Read(key) // never fails
	return key
}
