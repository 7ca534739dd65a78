package storetest

import (
	"context"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/sync/errgroup"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
)

// older puts outcomes of version 9.4 where 10.1 has been: for the log as it is,
// for the log with other bytes, for one that could not be read, and for a copy
// that comes first by name or takes over. 9.4 comes before 10.1, though not as
// text.
func older(t *testing.T, open func() store.Store) {
	s, ctx := open(), context.Background()
	newer := of("10.1", whole(40, 0))
	rename(&newer, "b/ride.fit")
	must(t, s.Put(ctx, []fleet.Outcome{newer}))
	want := Read(t, s)

	same := of("9.4", whole(40, 0))
	rename(&same, "b/ride.fit")
	changed := of("9.4", whole(40, 1))
	rename(&changed, "b/ride.fit")
	unread := fleet.Outcome{Log: same.Log}
	unread.Log.Content, unread.Log.Problem = "", "it could not be read"
	seen := fleet.Outcome{Log: same.Log, Known: true}
	for name, o := range map[string]fleet.Outcome{"the same log": same, "other bytes": changed, "unread": unread, "known": seen} {
		must(t, s.Put(ctx, []fleet.Outcome{o}))
		if d := Diff(want, Read(t, s)); d != "" {
			t.Fatalf("%s: rows differ (-want +got):\n%s", name, d)
		}
	}

	first, over := of("9.4", same), of("9.4", same)
	rename(&first, "a/ride.fit")
	rename(&over, "c/ride.fit")
	over.TakeOver = true
	must(t, s.Put(ctx, []fleet.Outcome{first, over}))
	want.Logs = []fleet.Log{first.Log, newer.Log, over.Log} // told of, and to be done again
	if d := Diff(want, Read(t, s)); d != "" {
		t.Errorf("copies: rows differ (-want +got):\n%s", d)
	}
}

// versions has workers of two versions put the same logs, each in an order of
// its own.
func versions(t *testing.T, open func() store.Store) {
	outcomes := Drawn(41, 120)
	var old, fresh []fleet.Outcome
	for _, o := range outcomes {
		old, fresh = append(old, of("9.4", o)), append(fresh, of("10.1", o))
	}
	var g errgroup.Group
	for worker, all := range [][]fleet.Outcome{old, fresh, old} {
		s := open()
		g.Go(func() error {
			for _, i := range rand.New(rand.NewPCG(41, uint64(worker))).Perm(len(all)) {
				if err := s.Put(context.Background(), all[i:i+1]); err != nil {
					return err
				}
			}
			return nil
		})
	}
	must(t, g.Wait())
	if d := Diff(Expected(fresh), Read(t, open())); d != "" {
		t.Errorf("rows differ (-want +got):\n%s", d)
	}
}

func versionTallies(t *testing.T, open func() store.Store) {
	s := open()
	count := map[string]int64{}
	for i, o := range Drawn(42, 30) {
		o = of([]string{"9.4", "10.1", ""}[i%3], o)
		count[o.Log.Version] += int64(len(o.Rides))
		must(t, s.Put(context.Background(), []fleet.Outcome{o}))
	}
	got, err := s.Sums(context.Background(), store.Question{})
	must(t, err)
	want := []fleet.VersionTally{{Version: "", Rides: count[""]}, {Version: "9.4", Rides: count["9.4"]}, {Version: "10.1", Rides: count["10.1"]}}
	if d := cmp.Diff(want, got.Versions); d != "" {
		t.Errorf("versions differ (-want +got):\n%s", d)
	}
}

// of marks an outcome, and leaves the one it is given as it is.
func of(version string, o fleet.Outcome) fleet.Outcome {
	o.Log.Version = version
	o.Rides = append([]fleet.Ride(nil), o.Rides...)
	for i := range o.Rides {
		o.Rides[i].Version = version
		o.Rides[i].LossWh = float64(len(version)) + float64(i) // of its own, so that rows can be told apart
	}
	return o
}
