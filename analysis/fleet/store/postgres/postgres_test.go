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

// A database of before there were some columns gets them, and its rows survive.
func TestColumnsFollowTheRows(t *testing.T) {
	server := pgtest.Start(t)
	address := server.Database(t)
	outcomes := storetest.Drawn(31, 40)
	for round := range 2 {
		s, err := postgres.Open(context.Background(), address)
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Put(context.Background(), outcomes); err != nil {
			t.Fatal(err)
		}
		if d := storetest.Diff(storetest.Expected(outcomes), storetest.Read(t, s)); d != "" {
			t.Error(d)
		}
		s.Close()
		if round == 0 {
			server.Exec(t, address, "ALTER TABLE cogledger.rides DROP COLUMN air_c, DROP COLUMN warnings, DROP COLUMN made, DROP COLUMN basis", "ALTER TABLE cogledger.logs DROP COLUMN start")
		}
	}
}
