// Package postgres keeps a fleet's rows in a PostgreSQL database, for fleets
// that many machines work on.
//
// The tables stand in a schema of their own, cogledger, beside whatever else
// the database holds, and are those of the SQLite store. Versions 13 and later
// of the server will do.
package postgres

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
)

// Schema is the name of the schema that holds the tables.
const Schema = "cogledger"

// Store is a fleet's rows in a database.
type Store struct {
	pool *pgxpool.Pool
	name string // the database's address without the password
}

var _ store.Store = (*Store)(nil)

// Named reports whether a store's name is the address of a database.
func Named(name string) bool {
	return strings.HasPrefix(name, "postgres://") || strings.HasPrefix(name, "postgresql://")
}

// Open opens the store at an address such as postgres://user@host/database and
// makes its tables where there are none.
func Open(ctx context.Context, address string) (*Store, error) {
	config, err := pgxpool.ParseConfig(address)
	if err != nil {
		// The library's error may quote the password.
		return nil, fmt.Errorf("store %s: this is no address of a database; write postgres://user@host:5432/database", Redacted(address))
	}
	config.ConnConfig.RuntimeParams["search_path"] = Schema
	if config.ConnConfig.RuntimeParams["application_name"] == "" {
		config.ConnConfig.RuntimeParams["application_name"] = "cogledger"
	}
	// While the others answer a summary, one connection holds its snapshot.
	config.MaxConns = max(config.MaxConns, atOnce+1)
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return nil, fmt.Errorf("store %s: %w", Redacted(address), err)
	}
	s := &Store{pool: pool, name: Redacted(address)}
	if err := s.prepare(ctx); err != nil {
		pool.Close()
		return nil, s.explain(err)
	}
	return s, nil
}

// Pool is the store's connections, for engines that keep tables of their own
// in the same schema.
func (s *Store) Pool() *pgxpool.Pool { return s.pool }

// Name is the database's address without the password.
func (s *Store) Name() string { return s.name }

// Close closes the connections.
func (s *Store) Close() error {
	s.pool.Close()
	return nil
}

// Key is the store's secret for pseudonyms.
func (s *Store) Key(ctx context.Context) ([]byte, error) {
	var key []byte
	err := s.pool.QueryRow(ctx, "SELECT value FROM secrets WHERE name = 'pseudonyms'").Scan(&key)
	return key, s.explain(err)
}

// Known gives what is stored of the paths.
func (s *Store) Known(ctx context.Context, paths []string) (map[string]fleet.Log, error) {
	asked := make([]string, len(paths))
	names := make(map[string]string, len(paths))
	for i, path := range paths {
		asked[i] = text(path)
		names[asked[i]] = path
	}
	columns := fleet.LogColumns()
	known := make(map[string]fleet.Log, len(paths))
	for l, err := range rows(ctx, s, columns, store.RowsQuery(columns, "logs", "WHERE path = ANY($1)"), asked) {
		if err != nil {
			return nil, err
		}
		l := *l
		l.Path = names[l.Path]
		known[l.Path] = l
	}
	return known, nil
}

// Owner gives the log that the rides of a content belong to.
func (s *Store) Owner(ctx context.Context, content string) (fleet.Log, bool, error) {
	l := fleet.Log{Content: content}
	err := s.pool.QueryRow(ctx, "SELECT path, bike, rider, team, profile, version FROM rides WHERE content = $1 ORDER BY part LIMIT 1", content).
		Scan(&l.Path, &l.Bike, &l.Rider, &l.Group, &l.Profile, &l.Version)
	if errors.Is(err, pgx.ErrNoRows) {
		return l, false, nil
	}
	return l, err == nil, s.explain(err)
}
