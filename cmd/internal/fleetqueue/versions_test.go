package fleetqueue

import (
	"context"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/sync/errgroup"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store/postgres"
	"cogledger/analysis/fleet/store/postgres/pgtest"
	"cogledger/analysis/fleet/store/storetest"
	"cogledger/cmd/internal/fleetmade"
	"cogledger/cmd/internal/fleetrun"
)

// aVersion is one version of the program at work on a database.
type aVersion struct {
	name  string
	store *postgres.Store
	bikes *fleetrun.Bikes
	at    place
}

func (v aVersion) enqueue(ctx context.Context) (Listed, error) {
	return enqueue(ctx, v.store, v.at, 0, v.name, slog.New(slog.DiscardHandler))
}

func (v aVersion) work(ctx context.Context) error {
	o := WorkOptions{Options: fleetrun.Options{Jobs: 1, MaxBytes: 64 << 20, MaxTime: time.Minute, Version: v.name}, UntilEmpty: true}
	return work(ctx, v.store, v.bikes, o, newCounters(), slog.New(slog.DiscardHandler))
}

// twoVersions are an older and a newer program on one database and folder.
func twoVersions(t *testing.T, address, folder string) (older, newer aVersion) {
	t.Helper()
	at, err := parsePlace(bucketOf(folder))
	must(t, err)
	bikes, err := fleetrun.ReadBikes(profiles(folder), "")
	must(t, err)
	var both [2]aVersion
	for i, name := range []string{"1.10", fleet.Version()} {
		s, err := openQueue(context.Background(), address, slog.New(slog.DiscardHandler))
		must(t, err)
		t.Cleanup(func() { s.Close() })
		both[i] = aVersion{name, s, bikes, at}
	}
	return both[0], both[1]
}

// An older worker leaves the jobs of a newer version, an older lister queues
// nothing that a newer version has done, and a newer worker takes over what
// waits for an older one, also from before jobs held a version.
func TestVersionsKeepApart(t *testing.T) {
	server := pgtest.Start(t)
	address := server.Database(t)
	folder := madeFleet(t, 3, 2)
	ctx := context.Background()
	older, newer := twoVersions(t, address, folder)
	step := func(v aVersion, want Listed) {
		t.Helper()
		got, err := v.enqueue(ctx)
		must(t, err)
		if got != want {
			t.Errorf("version %s lists %+v, want %+v", v.name, got, want)
		}
	}
	step(newer, Listed{Logs: 6, Queued: 6})
	must(t, older.work(ctx)) // there is nothing for it
	if rows := storetest.Read(t, older.store); len(rows.Logs) > 0 {
		t.Fatalf("the older worker has done %d of the newer one's logs", len(rows.Logs))
	}
	// Nobody has done them, and so the older lister asks for them too; what it
	// asks for is taken over, once.
	step(older, Listed{Logs: 6, Queued: 6})
	step(newer, Listed{Logs: 6, Waiting: 6})
	if n := jobs(t, newer.store, "TRUE"); n != 6 {
		t.Errorf("%d jobs for 6 logs", n)
	}
	// The queue of before there was a version in jobs.
	server.Exec(t, address, "UPDATE cogledger.river_job SET queue = 'default', args = args - 'version'")
	must(t, newer.work(ctx))
	want := inSQLite(t, folder)
	if d := storetest.Diff(want, stored(t, address)); d != "" {
		t.Errorf("the database differs (-file +database):\n%s", d)
	}
	step(older, Listed{Logs: 6, Later: 6})
	step(newer, Listed{Logs: 6, Current: 6})
	// A log that a newer version has done is left by an older run over the folder too.
	found, err := fleetrun.Find([]string{filepath.Join(folder, fleetmade.LogFolder)})
	must(t, err)
	report, err := fleetrun.Run(ctx, older.store, found, older.bikes, fleetrun.Options{Version: older.name})
	must(t, err)
	if report.Later != 6 || report.Reviewed+report.Failed+report.Copies != 0 {
		t.Errorf("an older run over the folder: %+v", report)
	}
}

// Listers and workers of two versions at once: all rows become the newer one's,
// and then nobody finds anything to queue. COGLEDGER_QUEUE_RIDES sets how many
// rides of a minute and a half there are.
func TestTwoVersionsAtOnce(t *testing.T) {
	rides := 130 // enough for not all to be reviewed with intervals
	if text := os.Getenv("COGLEDGER_QUEUE_RIDES"); text != "" {
		var err error
		rides, err = strconv.Atoi(text)
		must(t, err)
	}
	address := pgtest.Start(t).Database(t)
	folder := madeFleet(t, rides, 1.5)
	older, newer := twoVersions(t, address, folder)
	// The older version has begun; the newer one comes while it works.
	ctx := context.Background()
	_, err := older.enqueue(ctx)
	must(t, err)
	var g errgroup.Group
	for _, v := range []aVersion{older, newer} {
		g.Go(func() error {
			for range 3 {
				if _, err := v.enqueue(ctx); err != nil {
					return err
				}
				if err := v.work(ctx); err != nil {
					return err
				}
			}
			return nil
		})
	}
	must(t, g.Wait())
	// What an older worker held at the last listing may be left; one more pass
	// finds it, and no pass after that anything.
	_, err = newer.enqueue(ctx)
	must(t, err)
	must(t, newer.work(ctx))
	if d := storetest.Diff(inSQLite(t, folder), stored(t, address)); d != "" {
		t.Errorf("the database differs (-file +database):\n%s", d)
	}
	before := jobs(t, newer.store, "TRUE")
	for _, v := range []aVersion{older, newer, older} {
		got, err := v.enqueue(ctx)
		must(t, err)
		if got.Queued+got.Waiting > 0 || got.Later+got.Current != rides+3 {
			t.Errorf("version %s still queues: %+v", v.name, got)
		}
		must(t, v.work(ctx))
	}
	if after := jobs(t, newer.store, "TRUE"); after != before {
		t.Errorf("%d jobs, then %d", before, after)
	}
	// Of the newer version each log has one job that was done.
	if n, logs := jobs(t, newer.store, "queue = '"+queueOf(newer.name)+"'"), rides+3; n < logs || n > logs+logs/10+1 {
		t.Errorf("%d jobs of the newer version for %d logs", n, logs)
	}
}

func jobs(t *testing.T, s *postgres.Store, which string) int {
	t.Helper()
	var n int
	must(t, s.Pool().QueryRow(context.Background(), "SELECT COUNT(*) FROM river_job WHERE "+which).Scan(&n))
	return n
}

// The commands queue for their own version and say when a later one was there.
func TestEnqueueSaysWhatIsLater(t *testing.T) {
	server := pgtest.Start(t)
	address := server.Database(t)
	folder := madeFleet(t, 1, 2)
	ctx := context.Background()
	must(t, command(ctx, NewEnqueue, io.Discard, io.Discard, bucketOf(folder), "--store", address))
	must(t, command(ctx, NewWork, io.Discard, io.Discard, "--store", address, "--bikes", profiles(folder), "--until-empty"))
	server.Exec(t, address, "UPDATE cogledger.logs SET version = '999.1'")
	var said strings.Builder
	must(t, command(ctx, NewEnqueue, &said, io.Discard, bucketOf(folder), "--store", address))
	if !strings.Contains(said.String(), "4 logs, 0 queued, 0 in the queue already, 0 up to date") || !strings.Contains(said.String(), "4 logs were reviewed by a later version") {
		t.Errorf("said %s", &said)
	}
}
