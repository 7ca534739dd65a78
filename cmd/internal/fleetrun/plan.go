package fleetrun

import (
	"context"
	"slices"
	"sort"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
)

// planBatch is how many logs the store is asked about at once.
const planBatch = 1000

// A plan is what a run has to do.
type plan struct {
	todo     []*Found
	assign   []fleet.Log // reviewed already, but on other people's account
	current  int
	later    int // of the current ones, those that a later version has done
	problems int // of the current ones, those that could not be used
}

// makePlan compares what was found with what the store knows.
func makePlan(ctx context.Context, s store.Store, logs []Found, bikes *Bikes, o Options) (*plan, error) {
	p := &plan{}
	paths := make([]string, 0, planBatch)
	for batch := range slices.Chunk(logs, planBatch) {
		paths = paths[:0]
		for _, l := range batch {
			paths = append(paths, l.Path)
		}
		known, err := s.Known(ctx, paths)
		if err != nil {
			return nil, err
		}
		for i := range batch {
			l := &batch[i]
			before, is := known[l.Path]
			switch {
			case is && fleet.Newer(before.Version, o.Version):
				p.current++
				p.later++
			case !is || before.Fingerprint != l.Fingerprint || before.Version != o.Version:
				p.todo = append(p.todo, l)
			case before.Problem != "":
				p.again(l, before, bikes, o.Retry)
			default:
				p.compare(l, before, bikes)
			}
		}
	}
	return p, nil
}

// again decides about a log that had a problem: it is tried when asked for, or
// when it lacked a bike, or failed with one, and now has another.
func (p *plan) again(l *Found, before fleet.Log, bikes *Bikes, retry bool) {
	owner, owned := bikes.Of(l.Path, before.Serial, before.Start)
	if retry || before.Profile != noProfile && owned && owner.Assignment.Profile != before.Profile {
		p.todo = append(p.todo, l)
		return
	}
	p.current++
	p.problems++
}

// compare decides about a log that was reviewed: a changed profile asks for
// another review, a changed bike's name, rider or group does not.
func (p *plan) compare(l *Found, before fleet.Log, bikes *Bikes) {
	owner, owned := bikes.Of(l.Path, before.Serial, before.Start)
	switch {
	case !owned || owner.Assignment.Profile != before.Profile:
		p.todo = append(p.todo, l)
	case owner.Assignment != before.Assignment:
		before.Assignment = owner.Assignment
		p.assign = append(p.assign, before)
		p.current++
	default:
		p.current++
	}
}

// among reports whether a path is one of the logs, which are in order.
func among(logs []Found, path string) bool {
	i := sort.Search(len(logs), func(i int) bool { return logs[i].Path >= path })
	return i < len(logs) && logs[i].Path == path
}
