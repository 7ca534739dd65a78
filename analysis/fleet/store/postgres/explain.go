package postgres

import (
	"context"
	"errors"
	"fmt"
	"net"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"
)

// explain says in plain words what went wrong with the database, and what to
// do. The codes are those of PostgreSQL's appendix on error codes.
func (s *Store) explain(err error) error {
	if err == nil || strings.HasPrefix(err.Error(), "store ") {
		return err
	}
	say := func(what string) error { return fmt.Errorf("store %s: %s: %w", s.name, what, err) }
	var refused *pgconn.PgError
	if errors.As(err, &refused) {
		switch {
		case refused.Code == "28P01" || refused.Code == "28000":
			return say("the server does not let this user in; check name and password")
		case refused.Code == "3D000":
			return say("there is no such database; make it first (createdb), or name another")
		case refused.Code == "42501":
			return say("this role may not do that; grant it what docs/fleet.md lists")
		case refused.Code == "25006":
			return say("this server takes no changes (it is a standby or read-only); name the primary")
		case refused.Code == "53100":
			return say("the server's disk is full; what was stored before is whole: free some space and run again")
		case refused.Code == "53300":
			return say("the server has no connection left; raise max_connections, or work with fewer processes")
		case strings.HasPrefix(refused.Code, "57P"):
			return say("the server is shutting down or starting; run again when it is up")
		}
		return say("the database refused")
	}
	var dial *net.OpError
	var connect *pgconn.ConnectError
	switch {
	case errors.Is(err, context.Canceled):
		return fmt.Errorf("store %s: %w", s.name, err)
	case errors.As(err, &dial) || errors.As(err, &connect):
		return say("the server cannot be reached; is it up, and are host and port right?")
	}
	return say("it failed")
}

// passing reports whether the same call may succeed a moment later: another
// transaction was in the way.
func passing(err error) bool {
	var refused *pgconn.PgError
	return errors.As(err, &refused) && (refused.Code == "40001" || refused.Code == "40P01")
}
