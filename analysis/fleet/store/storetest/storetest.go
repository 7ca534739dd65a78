// Package storetest tests that a store keeps the contract of package store.
// Every store runs the same suite.
package storetest

import (
	"context"
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"golang.org/x/sync/errgroup"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
)

// Run tests a store. Fresh makes an empty store and returns a function that
// opens it, as often as asked; what it opens is closed by the suite.
func Run(t *testing.T, fresh func(t *testing.T) (open func() (store.Store, error))) {
	tests := []struct {
		name string
		test func(*testing.T, func() store.Store)
	}{
		{"rows come back bit for bit", comeBack},
		{"putting again changes nothing", again},
		{"an empty store has empty sums", empty},
		{"changed content drops the old rows", changed},
		{"a copy keeps the rows of what changed", copied},
		{"of equal contents the first by name owns the rides", owned},
		{"a newer version replaces what an older one made", newer},
		{"an older version overwrites nothing of a newer one", older},
		{"two versions at once end as the newer one's rows", versions},
		{"rides are counted by version", versionTallies},
		{"take over", takenOver},
		{"known leaves the rows alone", known},
		{"assign moves rides, not numbers", assigned},
		{"a forgotten rider leaves nothing", forgotten},
		{"forget before a day", forgottenBefore},
		{"sums are those of the rows", summed},
		{"a ride in two logs counts once", doubles},
		{"cells need enough bikes and riders", cells},
		{"problems and duplicates are counted", problems},
		{"copies are counted by content", copies},
		{"a put that fails leaves nothing", failing},
		{"many put at once", together},
		{"the key stays", key},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			open := fresh(t)
			test.test(t, func() store.Store {
				s, err := open()
				if err != nil {
					t.Fatal(err)
				}
				t.Cleanup(func() {
					if err := s.Close(); err != nil {
						t.Error(err)
					}
				})
				return s
			})
		})
	}
}

// A Dump is every row of a store, in order.
type Dump struct {
	Logs     []fleet.Log
	Rides    []fleet.Ride
	Habits   []fleet.Habit
	Segments []fleet.Segment
}

// Read reads everything in a store.
func Read(t testing.TB, s store.Store) Dump {
	t.Helper()
	ctx := context.Background()
	var d Dump
	for row, err := range s.Logs(ctx) {
		must(t, err)
		d.Logs = append(d.Logs, *row)
	}
	for row, err := range s.Rides(ctx) {
		must(t, err)
		d.Rides = append(d.Rides, *row)
	}
	for row, err := range s.Habits(ctx) {
		must(t, err)
		d.Habits = append(d.Habits, *row)
	}
	for row, err := range s.Segments(ctx) {
		must(t, err)
		d.Segments = append(d.Segments, *row)
	}
	return d
}

// Diff tells two dumps apart to the last bit; NaN equals NaN.
func Diff(want, got Dump) string {
	return cmp.Diff(want, got, cmpopts.EquateNaNs(), cmpopts.EquateEmpty())
}

func comeBack(t *testing.T, open func() store.Store) {
	s := open()
	outcomes := Drawn(1, 40)
	must(t, s.Put(context.Background(), outcomes))
	if d := Diff(Expected(outcomes), Read(t, open())); d != "" {
		t.Errorf("rows differ (-want +got):\n%s", d)
	}
}

func again(t *testing.T, open func() store.Store) {
	s := open()
	outcomes := Drawn(2, 20)
	for range 3 {
		must(t, s.Put(context.Background(), outcomes))
	}
	if d := Diff(Expected(outcomes), Read(t, s)); d != "" {
		t.Errorf("rows differ (-want +got):\n%s", d)
	}
}

func empty(t *testing.T, open func() store.Store) {
	s := open()
	must(t, s.Put(context.Background(), nil))
	sums, err := s.Sums(context.Background(), store.Question{})
	must(t, err)
	if sums.All.Rides != 0 || sums.All.Km != 0 || len(sums.Bikes) != 0 || sums.Logs != 0 || !math.IsNaN(sums.All.WindingPeakC) || !sums.All.First.IsZero() {
		t.Errorf("sums of nothing: %+v", sums)
	}
}

func changed(t *testing.T, open func() store.Store) {
	s := open()
	old := Drawn(3, 5)
	must(t, s.Put(context.Background(), old))
	grown := Drawn(4, 1)[0]
	for _, o := range old {
		if o.Log.Problem == "" {
			rename(&grown, o.Log.Path)
			break
		}
	}
	must(t, s.Put(context.Background(), []fleet.Outcome{grown}))
	var want []fleet.Outcome
	for _, o := range old {
		if o.Log.Path != grown.Log.Path {
			want = append(want, o)
		}
	}
	if d := Diff(Expected(append(want, grown)), Read(t, s)); d != "" {
		t.Errorf("rows differ (-want +got):\n%s", d)
	}
}

func copied(t *testing.T, open func() store.Store) {
	s := open()
	first, second := whole(5, 0), whole(5, 0)
	rename(&first, "a/ride.fit")
	rename(&second, "b/ride.fit")
	changed := whole(5, 1)
	rename(&changed, "a/ride.fit")
	for _, o := range []fleet.Outcome{first, second, changed} {
		must(t, s.Put(context.Background(), []fleet.Outcome{o}))
	}
	got := Read(t, s)
	if len(got.Rides) != len(first.Rides)+len(changed.Rides) {
		t.Errorf("%d rides; the copy's %d and the changed log's %d were to stay", len(got.Rides), len(first.Rides), len(changed.Rides))
	}
}

func owned(t *testing.T, open func() store.Store) {
	for _, order := range [][]string{{"a", "b", "c"}, {"c", "b", "a"}, {"b", "c", "a"}} {
		s := open()
		for _, folder := range order {
			o := whole(6, 0)
			rename(&o, folder+"/ride.fit")
			for i := range o.Rides {
				o.Rides[i].Bike = folder
			}
			must(t, s.Put(context.Background(), []fleet.Outcome{o}))
		}
		got := Read(t, s)
		if len(got.Logs) != 3 || got.Rides[0].Path != "a/ride.fit" || got.Rides[0].Bike != "a" {
			t.Errorf("put in order %v: %d logs, rides of %s", order, len(got.Logs), got.Rides[0].Path)
		}
	}
}

func newer(t *testing.T, open func() store.Store) {
	s := open()
	old, fresh := whole(7, 0), whole(7, 0)
	rename(&old, "a/ride.fit")
	rename(&fresh, "b/ride.fit")
	fresh.Log.Version = "2.0"
	for i := range fresh.Rides {
		fresh.Rides[i].Version = "2.0"
	}
	must(t, s.Put(context.Background(), []fleet.Outcome{old}))
	must(t, s.Put(context.Background(), []fleet.Outcome{fresh}))
	if got := Read(t, s); got.Rides[0].Version != "2.0" {
		t.Errorf("the rides are still of version %s", got.Rides[0].Version)
	}
}

func takenOver(t *testing.T, open func() store.Store) {
	s := open()
	gone, moved := whole(8, 0), whole(8, 0)
	rename(&gone, "a/ride.fit")
	rename(&moved, "b/ride.fit")
	moved.TakeOver = true
	must(t, s.Put(context.Background(), []fleet.Outcome{gone}))
	must(t, s.Put(context.Background(), []fleet.Outcome{moved}))
	if got := Read(t, s); got.Rides[0].Path != "b/ride.fit" || len(got.Rides) != len(gone.Rides) {
		t.Errorf("%d rides of %s", len(got.Rides), got.Rides[0].Path)
	}
}

func known(t *testing.T, open func() store.Store) {
	s := open()
	first := whole(9, 0)
	rename(&first, "a/ride.fit")
	second := fleet.Outcome{Log: first.Log, Known: true}
	second.Log.Path = "b/ride.fit"
	must(t, s.Put(context.Background(), []fleet.Outcome{first, second}))
	got := Read(t, s)
	if len(got.Logs) != 2 || len(got.Rides) != len(first.Rides) {
		t.Errorf("%d logs and %d rides", len(got.Logs), len(got.Rides))
	}
	logs, err := s.Known(context.Background(), []string{"b/ride.fit", "c/ride.fit"})
	must(t, err)
	if d := cmp.Diff(map[string]fleet.Log{"b/ride.fit": second.Log}, logs); d != "" {
		t.Errorf("known logs differ (-want +got):\n%s", d)
	}
	owner, found, err := s.Owner(context.Background(), first.Log.Content)
	must(t, err)
	if !found || owner.Path != "a/ride.fit" || owner.Assignment != first.Rides[0].Assignment || owner.Version != first.Rides[0].Version {
		t.Errorf("owner %+v, found %v", owner, found)
	}
	if _, found, err = s.Owner(context.Background(), "nothing has this"); found || err != nil {
		t.Errorf("an unknown content has an owner: %v", err)
	}
}

func assigned(t *testing.T, open func() store.Store) {
	s := open()
	outcomes := Drawn(10, 12)
	must(t, s.Put(context.Background(), outcomes))
	var moved []fleet.Log
	for i := range outcomes {
		if i%3 > 0 {
			continue
		}
		o := &outcomes[i]
		o.Log.Bike, o.Log.Rider, o.Log.Group = "other bike", "other rider", "other group"
		for k := range o.Rides {
			o.Rides[k].Bike, o.Rides[k].Rider, o.Rides[k].Group = "other bike", "other rider", "other group"
		}
		moved = append(moved, o.Log)
	}
	must(t, s.Assign(context.Background(), moved))
	if d := Diff(Expected(outcomes), Read(t, s)); d != "" {
		t.Errorf("rows differ (-want +got):\n%s", d)
	}
}

func forgotten(t *testing.T, open func() store.Store) {
	s := open()
	outcomes := Drawn(22, 60)
	count := map[string]int64{}
	for _, o := range outcomes {
		count[o.Log.Rider]++
	}
	rider, most := "", int64(0)
	for name, n := range count {
		if name != "" && n > most {
			rider, most = name, n
		}
	}
	// Somebody else's copy of one of the rider's logs, later by name.
	var copied fleet.Outcome
	for _, o := range outcomes {
		if o.Log.Rider == rider && len(o.Rides) > 0 {
			copied = o
		}
	}
	copied.Log.Path, copied.Log.Rider, copied.Known = copied.Log.Path+"~", "somebody else", true
	must(t, s.Put(context.Background(), append(outcomes, copied)))
	logs, err := s.Forget(context.Background(), rider)
	must(t, err)
	if logs != most || most == 0 {
		t.Errorf("%d logs forgotten, want %d", logs, most)
	}
	var left []fleet.Outcome
	for _, o := range outcomes {
		if o.Log.Rider != rider {
			left = append(left, o)
		}
	}
	copied.Log.Version, copied.Rides, copied.Habits, copied.Segments = "", nil, nil, nil
	if d := Diff(Expected(append(left, copied)), Read(t, open())); d != "" {
		t.Errorf("rows differ (-want +got):\n%s", d)
	}
	if logs, err = s.Forget(context.Background(), "nobody"); err != nil || logs != 0 {
		t.Errorf("nobody: %d logs, %v", logs, err)
	}
}

func forgottenBefore(t *testing.T, open func() store.Store) {
	s := open()
	outcomes := Drawn(23, 80)
	must(t, s.Put(context.Background(), outcomes))
	moment := time.Unix(1780000000+45*86400, 0)
	var left []fleet.Outcome
	gone := int64(0)
	for _, o := range outcomes {
		if !o.Log.Start.IsZero() && o.Log.Start.Before(moment) {
			gone++
			continue
		}
		left = append(left, o)
	}
	logs, err := s.ForgetBefore(context.Background(), moment)
	must(t, err)
	if logs != gone || gone == 0 || len(left) == 0 {
		t.Errorf("%d logs forgotten, want %d; %d are left", logs, gone, len(left))
	}
	if d := Diff(Expected(left), Read(t, open())); d != "" {
		t.Errorf("rows differ (-want +got):\n%s", d)
	}
}

func failing(t *testing.T, open func() store.Store) {
	s := open()
	before := Drawn(11, 5)
	must(t, s.Put(context.Background(), before))
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	more := Drawn(12, 200)
	if err := s.Put(ctx, more); err == nil {
		t.Fatal("a put that was cancelled tells of no error")
	}
	if d := Diff(Expected(before), Read(t, s)); d != "" {
		t.Errorf("rows differ (-want +got):\n%s", d)
	}
	must(t, s.Put(context.Background(), more))
}

func together(t *testing.T, open func() store.Store) {
	outcomes := Drawn(13, 200)
	var g errgroup.Group
	for worker := range 4 {
		s := open()
		g.Go(func() error {
			for i := 0; i < len(outcomes); i += 10 {
				// Each begins elsewhere, and in the end all have put everything.
				from := (i + 50*worker) % len(outcomes)
				if err := s.Put(context.Background(), outcomes[from:from+10]); err != nil {
					return fmt.Errorf("worker %d: %w", worker, err)
				}
			}
			return nil
		})
	}
	must(t, g.Wait())
	if d := Diff(Expected(outcomes), Read(t, open())); d != "" {
		t.Errorf("rows differ (-want +got):\n%s", d)
	}
}

func key(t *testing.T, open func() store.Store) {
	first, err := open().Key(context.Background())
	must(t, err)
	second, err := open().Key(context.Background())
	must(t, err)
	if len(first) < 16 || string(first) != string(second) {
		t.Errorf("keys %x and %x", first, second)
	}
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
