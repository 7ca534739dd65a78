package ingest_test

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"cogledger/analysis/bike"
	simulated "cogledger/analysis/made"
	"cogledger/ingest"
	"cogledger/ingest/ride"
)

// weeksApart are rides over one course in one direction, a week apart, each with
// the head unit's log and the drive's own. Every second logger has no clock.
func weeksApart(n int) (heads, loggers []*ride.Track) {
	p := bike.Example()
	course := simulated.CoastRoad().Stretch(1000, 4500)
	for week := range n {
		sc := simulated.Scenario{
			Name: "commute (made)", Course: course, Start: time.Date(2026, 1, 5+7*week, 7, 0, 0, 0, time.UTC),
			WindMPS: 2, WindFrom: float64(40 * week), AirC: 12, Charge: 0.8, RedShare: 0.4, Logger: true,
		}
		m := simulated.Simulate(p, sc, simulated.Lugger(), uint64(500+week))
		head, logger := m.Tracks[0], m.Tracks[1]
		if week%2 == 0 {
			logger.Epoch = time.Time{}
		} else if logger.Epoch.IsZero() {
			logger.Epoch = head.Epoch
		}
		heads, loggers = append(heads, head), append(loggers, logger)
	}
	return heads, loggers
}

// Rides and loggers of twenty weeks over one course, in any order: each logger goes
// to its own ride.
func TestAssignedInAnyOrder(t *testing.T) {
	n := 20
	if testing.Short() {
		n = 6
	}
	heads, loggers := weeksApart(n)
	for _, seed := range []uint64{1, 2} {
		order, other := rand.New(rand.NewPCG(seed, 1)).Perm(n), rand.New(rand.NewPCG(seed, 2)).Perm(n)
		var a, b []*ride.Track
		for i := range n {
			a, b = append(a, heads[order[i]]), append(b, loggers[other[i]])
		}
		got := ingest.Assign(a, b)
		for i, of := range got.Of {
			if len(of) != 1 || other[of[0]] != order[i] {
				t.Errorf("seed %d: the ride of week %d got the loggers %v", seed, order[i], of)
			}
		}
		if k := slices.IndexFunc(got.Refused, func(err error) bool { return err != nil }); k >= 0 {
			t.Errorf("seed %d: logger of week %d: %v", seed, other[k], got.Refused[k])
		}
	}
}

// Loggers of other weeks over the same course join no ride.
func TestNothingJoinsAcrossWeeks(t *testing.T) {
	n := 20
	if testing.Short() {
		n = 6
	}
	heads, loggers := weeksApart(n)
	got := ingest.Assign(heads[:n/2], loggers[n/2:])
	for i, of := range got.Of {
		if len(of) > 0 {
			t.Errorf("the ride of week %d got the loggers of weeks %v", i, of)
		}
	}
	for k, err := range got.Refused {
		if err == nil {
			t.Errorf("logger %d is refused by nothing and joined to nothing", k)
		}
	}
}

// A second log with the same channels finds its ride taken.
func TestTakenOnce(t *testing.T) {
	heads, loggers := weeksApart(1)
	again := *loggers[0]
	got := ingest.Assign(heads, []*ride.Track{loggers[0], &again})
	if len(got.Of[0]) != 1 || got.Refused[1-got.Of[0][0]] == nil {
		t.Errorf("%+v", got)
	}
}

// An offset given by hand that is minutes off is joined as asked, with a caution
// that names the offset at which the logs match.
func TestCautionOfAnOffset(t *testing.T) {
	heads, loggers := weeksApart(1)
	_, found, err := ingest.Join(heads[0], loggers[0], ingest.JoinOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for off, want := range map[float64]bool{0: false, 120: true, -300: true} {
		joined, _, err := ingest.Join(heads[0], loggers[0], ingest.JoinOptions{Manual: true, OffsetS: found.OffsetS + off})
		if err != nil {
			t.Fatal(err)
		}
		warned := slices.ContainsFunc(joined.Notes, func(n ride.Note) bool {
			return len(n.Cure) > 0 && n.Cure[:14] == "the logs match"
		})
		if warned != want {
			t.Errorf("%+.0f s off: caution %v, want %v: %v", off, warned, want, joined.Notes)
		}
	}
}
