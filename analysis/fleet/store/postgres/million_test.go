package postgres_test

import (
	"context"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
	"cogledger/analysis/fleet/store/postgres"
	"cogledger/analysis/fleet/store/postgres/pgtest"
	"cogledger/analysis/fleet/store/storetest"
)

// The sums of a fleet of COGLEDGER_FLEET_ROWS rides, of 5,000 bikes over a year,
// with one habit and two stretches each on average, made straight in the store. It
// reports time, bytes and memory, and compares with plain questions.
func TestSumsOfMany(t *testing.T) {
	text := os.Getenv("COGLEDGER_FLEET_ROWS")
	if text == "" {
		t.Skip("set COGLEDGER_FLEET_ROWS to a number of rides")
	}
	rides, err := strconv.Atoi(text)
	must(t, err)
	server := pgtest.Start(t)
	address := server.Database(t)
	s, err := postgres.Open(context.Background(), address)
	must(t, err)
	defer s.Close()
	must(t, s.Put(context.Background(), storetest.Drawn(1, 2000)))
	began := time.Now()
	for _, statement := range multiply(rides) {
		server.Exec(t, address, statement)
	}
	server.Exec(t, address, "VACUUM ANALYZE cogledger.rides", "VACUUM ANALYZE cogledger.habits", "VACUUM ANALYZE cogledger.segments", "VACUUM ANALYZE cogledger.logs")
	t.Logf("%d rides made in %v", rides, time.Since(began).Round(time.Second))
	var bytes int64
	must(t, s.Pool().QueryRow(context.Background(), "SELECT SUM(pg_total_relation_size(oid)) FROM pg_class WHERE relnamespace = 'cogledger'::regnamespace AND relkind = 'r'").Scan(&bytes))
	t.Logf("%.2f kB a ride in the database", float64(bytes)/float64(rides)/1000)
	began = time.Now()
	sums, err := s.Sums(context.Background(), store.Question{Least: fleet.LeastGroup, HideEnds: true, Problems: 1000})
	must(t, err)
	t.Logf("sums of %d rides of %d bikes, %d riders, %d cells, %d habits in %v", sums.All.Rides, len(sums.Bikes), len(sums.Riders), len(sums.Cells), len(sums.Habits), time.Since(began))
	if mb := peakMB(); mb > 0 {
		t.Logf("%d MB at most in the program", mb)
		if mb > 200 {
			t.Errorf("%d MB", mb)
		}
	}
	if sums.All.Rides < int64(rides) || len(sums.Cells) == 0 || len(sums.Habits) == 0 {
		t.Errorf("%d rides, %d cells, %d habits", sums.All.Rides, len(sums.Cells), len(sums.Habits))
	}
	plainly(t, s, &sums)
	if text := os.Getenv("COGLEDGER_FLEET_HOLD"); text != "" {
		t.Log(address)
		hold, err := time.ParseDuration(text)
		must(t, err)
		time.Sleep(hold)
	}
}

// plainly compares sums with what plain questions give.
func plainly(t *testing.T, s *postgres.Store, sums *fleet.Sums) {
	const counts = "COUNT(*), COALESCE(SUM(distance_m), 0)/1000, COUNT(DISTINCT bike), COUNT(DISTINCT NULLIF(rider, '')), COUNT(DISTINCT start/86400)"
	for name, of := range map[string]struct {
		query string
		got   []fleet.Tally
	}{
		"all":    {"SELECT '', " + counts + " FROM rides", []fleet.Tally{sums.All}},
		"bikes":  {"SELECT bike, " + counts + " FROM rides GROUP BY bike ORDER BY bike", sums.Bikes},
		"riders": {"SELECT rider, " + counts + " FROM rides GROUP BY rider ORDER BY rider", sums.Riders},
		"groups": {"SELECT team, " + counts + " FROM rides GROUP BY team ORDER BY team", sums.Groups},
		"spans":  {"SELECT ((start/86400 + 3)/7)::text, " + counts + " FROM rides WHERE start IS NOT NULL GROUP BY 1 ORDER BY MIN(start)", sums.Spans},
	} {
		found, err := s.Pool().Query(context.Background(), of.query)
		must(t, err)
		n := 0
		for ; found.Next(); n++ {
			var want fleet.Tally
			must(t, found.Scan(&want.Key, &want.Rides, &want.Km, &want.Bikes, &want.Riders, &want.Days))
			if n >= len(of.got) {
				continue
			}
			g := of.got[n]
			got := fleet.Tally{Key: g.Key, Rides: g.Rides, Km: g.Km, Bikes: g.Bikes, Riders: g.Riders, Days: g.Days}
			if d := cmp.Diff(want, got, cmpopts.EquateApprox(1e-9, 0)); d != "" {
				t.Fatalf("%s (-want +got):\n%s", name, d)
			}
		}
		must(t, found.Err())
		if n != len(of.got) || n == 0 {
			t.Errorf("%s: %d tallies, want %d", name, len(of.got), n)
		}
	}
	var logs, usable, contents int64
	must(t, s.Pool().QueryRow(context.Background(), "SELECT COUNT(*), COUNT(*) FILTER (WHERE problem = ''), COUNT(DISTINCT content) FILTER (WHERE problem = '') FROM logs").
		Scan(&logs, &usable, &contents))
	if sums.Logs != logs || sums.Duplicates != usable-contents {
		t.Errorf("%d logs, %d duplicates; want %d and %d", sums.Logs, sums.Duplicates, logs, usable-contents)
	}
}

// peakMB is the most memory that this process ever held, 0 where the system
// does not tell.
func peakMB() int {
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		return 0
	}
	_, rest, _ := strings.Cut(string(status), "VmHWM:")
	kB, err := strconv.Atoi(strings.TrimSpace(strings.SplitN(rest, " kB", 2)[0]))
	if err != nil {
		return 0
	}
	return kB >> 10
}

// multiply copies the drawn rows again and again under new keys, to other bikes,
// riders, days and places.
func multiply(rides int) []string {
	n := strconv.Itoa(rides)
	base := `CREATE TEMP TABLE base AS SELECT row_number() OVER (ORDER BY content, part) - 1 AS k, r.* FROM cogledger.rides r`
	draw := `CREATE TEMP TABLE drawn AS SELECT g, md5(g::text) AS content, b.k, 'bike-' || (g::bigint * 7919 % 5000) AS bike, 'rider-' || (g::bigint * 104729 % 6000) AS rider,
		'depot-' || (g::bigint * 7919 % 5000 % 40) AS team, 1767225600 + (g::bigint * 1009 % 31536000) AS start, b.content AS from_content, b.part AS from_part
		FROM generate_series(1, ` + n + `) g JOIN base b ON b.k = g % (SELECT COUNT(*) FROM base)`
	columns, values := "", ""
	for i, c := range fleet.RideColumns() {
		value := "b." + c.Name
		switch c.Name {
		case "content", "bike", "rider", "team", "start":
			value = "d." + c.Name
		case "part":
			value = "0"
		case "path":
			value = "'s3://made/' || d.content || '.fit'"
		case "month":
			value = "to_char(to_timestamp(d.start) AT TIME ZONE 'UTC', 'YYYY-MM')"
		}
		if i > 0 {
			columns, values = columns+", ", values+", "
		}
		columns, values = columns+c.Name, values+value
	}
	// Temporary tables last for one connection: all in one statement list.
	return []string{base + "; " + draw + "; " +
		"INSERT INTO cogledger.rides (" + columns + ") SELECT " + values + " FROM drawn d JOIN base b ON b.k = d.k; " +
		`INSERT INTO cogledger.habits SELECT d.content, 0, h.kind, h.count, h.opportunities, h.cost_wh FROM drawn d JOIN cogledger.habits h ON h.content = d.from_content AND h.part = d.from_part; ` +
		`INSERT INTO cogledger.segments SELECT d.content, 0, s.number, s.from_s, s.to_s, 1 + abs(hashint8(d.g)::bigint) % 4000, s.direction, s.lat, s.lon, s.near_end, s.loss_wh, s.grade, s.motor_rpm, s.gear_from, s.gear_to, s.winding_c, s.legs_lugging_s
			FROM drawn d JOIN cogledger.segments s ON s.content = d.from_content AND s.part = d.from_part; ` +
		`INSERT INTO cogledger.logs SELECT 's3://made/' || d.content || '.fit', '1-1', d.content, '', d.start, d.bike, d.rider, d.team, 'p', '1', '' FROM drawn d`}
}
