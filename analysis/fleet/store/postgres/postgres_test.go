package postgres_test

import (
	"context"
	"testing"

	"cogledger/analysis/fleet/store"
	"cogledger/analysis/fleet/store/postgres"
	"cogledger/analysis/fleet/store/postgres/pgtest"
	"cogledger/analysis/fleet/store/storetest"
)

func TestStore(t *testing.T) {
	server := pgtest.Start(t)
	storetest.Run(t, func(t *testing.T) func() (store.Store, error) {
		address := server.Database(t)
		return func() (store.Store, error) { return postgres.Open(context.Background(), address) }
	})
}
