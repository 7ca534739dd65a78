package fleetrun

import (
	"context"
	"errors"
	"math/rand/v2"
	"os"
	"runtime/debug"
	"sync"
	"time"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store"
)

const (
	putEvery  = 250 * time.Millisecond // what a kill may lose of work that was done
	putAtMost = 200                    // outcomes in one transaction
)

// Run reviews what is new among the logs found and stores it. When the context
// ends, logs in work are finished and stored, and the context's error returned.
func Run(ctx context.Context, s store.Store, found *Finding, bikes *Bikes, o Options) (Report, error) {
	if o.DoubtEvery <= 0 {
		o.DoubtEvery = DoubtEvery(len(found.Logs))
	}
	o = o.orDefaults()
	began := time.Now()
	defer CollectSeldom()()
	p, err := makePlan(ctx, s, found.Logs, bikes, o)
	if err != nil {
		return Report{}, err
	}
	if len(p.assign) > 0 {
		if err := s.Assign(ctx, p.assign); err != nil {
			return Report{}, err
		}
	}
	r := &runner{
		store: s, options: o, todo: shuffled(p.todo),
		worker: NewWorker(s.Owner, func(_ context.Context, path string) bool { return among(found.Logs, path) }, bikes, o),
		report: Report{Found: len(found.Logs), Current: p.current, Later: p.later, Assigned: len(p.assign)},
		meter:  newMeter(p.todo),
	}
	defer r.worker.Close()
	err = r.run(ctx)
	for _, l := range r.todo {
		if l.archive != nil {
			l.archive.close()
		}
	}
	r.report.Took = time.Since(began)
	return r.report, err
}

// CollectSeldom lets more garbage gather between collections, since what lives
// is small beside what a ride leaves behind, and returns what undoes it. Near
// the memory limit it collects as often as it must. Whoever sets GOGC or
// GOMEMLIMIT has chosen.
func CollectSeldom() (undo func()) {
	const (
		percent = 200
		memory  = 256 << 20 // from which on garbage is collected whatever the percentage
	)
	if os.Getenv("GOGC") != "" || os.Getenv("GOMEMLIMIT") != "" {
		return func() {}
	}
	before, limit := debug.SetGCPercent(percent), debug.SetMemoryLimit(memory)
	return func() {
		debug.SetGCPercent(before)
		debug.SetMemoryLimit(limit)
	}
}

// shuffled begins somewhere else each time, so that two processes that start
// together seldom do the same log, and lets zips know how often they are wanted.
func shuffled(todo []*Found) []*Found {
	for _, l := range todo {
		if l.archive != nil {
			l.archive.wanted++
		}
	}
	if len(todo) == 0 {
		return nil
	}
	from := rand.IntN(len(todo))
	return append(todo[from:len(todo):len(todo)], todo[:from]...)
}

type runner struct {
	store   store.Store
	options Options
	worker  *Worker
	todo    []*Found

	report Report // the writer's
	meter  *meter // the writer's
}

// done is an outcome on its way to the store.
type done struct {
	outcome fleet.Outcome
	seconds int64 // of riding reviewed
	bytes   int64
}

func (r *runner) run(ctx context.Context) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	jobs, results := make(chan *Found), make(chan done, r.options.Jobs)
	go func() {
		defer close(jobs)
		for _, l := range r.todo {
			select {
			case jobs <- l:
			case <-ctx.Done():
				return
			}
		}
	}()
	var working sync.WaitGroup
	for range r.options.Jobs {
		working.Go(func() {
			for l := range jobs {
				outcome, seconds, err := r.worker.Do(ctx, l)
				if err != nil {
					cancel(err)
					return
				}
				results <- done{outcome, seconds, l.Bytes}
			}
		})
	}
	written := make(chan struct{})
	go func() {
		defer close(written)
		r.write(results, cancel)
	}()
	working.Wait()
	close(results)
	<-written
	return context.Cause(ctx)
}

// write stores outcomes in batches. After a failure it stores no more, but goes
// on taking results until there are none.
func (r *runner) write(results <-chan done, cancel context.CancelCauseFunc) {
	tick := time.NewTicker(putEvery)
	defer tick.Stop()
	var batch []fleet.Outcome
	failed := false
	put := func() {
		if len(batch) > 0 && !failed {
			// A stop asked for must not lose what is done.
			if err := r.store.Put(context.Background(), batch); err != nil {
				failed = true
				cancel(err)
			}
		}
		batch = batch[:0]
		r.options.Progress(r.meter.now())
	}
	defer put()
	for {
		select {
		case d, more := <-results:
			if !more {
				return
			}
			batch = append(batch, d.outcome)
			r.count(d)
			if len(batch) >= putAtMost {
				put()
			}
		case <-tick.C:
			put()
		}
	}
}

// count enters an outcome in the report.
func (r *runner) count(d done) {
	switch o := d.outcome; {
	case o.Log.Problem != "":
		r.report.Failed++
	case o.Known:
		r.report.Copies++
	default:
		r.report.Reviewed++
		r.report.Rides += len(o.Rides)
		r.report.Seconds += d.seconds
	}
	if d.outcome.Partly != "" {
		r.report.Partly = append(r.report.Partly, Problem{Path: d.outcome.Log.Path, Err: errors.New(d.outcome.Partly)})
	}
	r.meter.add(d, d.outcome.Log.Problem != "")
}
