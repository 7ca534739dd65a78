package fleetrun

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/sync/semaphore"

	"cogledger/analysis/fleet"
)

const (
	mostHung   = 16      // logs left to themselves before a worker gives up
	mostKept   = 1 << 20 // bytes of memory kept for the next log
	secondSize = 25      // bytes of log for one second of ride, at least
	atOnce     = 200_000 // seconds of ride in work at once: some 200 MB
)

// ErrHung means that a worker holds so many hung logs that its process should
// end.
var ErrHung = errors.New("too many logs hung")

// A Worker does logs within bounds of memory and time, any number at once.
type Worker struct {
	job     Job
	options Options
	idle    chan hand
	room    *semaphore.Weighted
	hung    atomic.Int32
	buffers sync.Pool // of *[]byte
}

// NewWorker makes a worker. Stored and present are those of a Job.
func NewWorker(stored func(ctx context.Context, content string) (fleet.Log, bool, error), present func(ctx context.Context, path string) bool, bikes *Bikes, o Options) *Worker {
	o = o.orDefaults()
	return &Worker{
		job:     Job{Bikes: bikes, Version: o.Version, DoubtEvery: o.DoubtEvery, Read: o.Read, Stored: stored, Present: present},
		options: o, idle: make(chan hand, o.Jobs), room: semaphore.NewWeighted(atOnce),
	}
}

// Close lets the hands go. Nothing may be done after it.
func (w *Worker) Close() {
	close(w.idle)
	for h := range w.idle {
		close(h)
	}
}

// A hand is a goroutine that does one task after another, on a stack that has
// grown once.
type hand chan func()

func (w *Worker) hand() hand {
	select {
	case h := <-w.idle:
		return h
	default:
	}
	h := make(hand)
	go func() {
		for task := range h {
			task()
		}
	}()
	return h
}

// rest keeps a hand that is done, or lets it go where there are enough.
func (w *Worker) rest(h hand) {
	select {
	case w.idle <- h:
	default:
		close(h)
	}
}

// Do does one log within its share of memory and its time, and gives the
// outcome and the seconds of riding reviewed. A log that takes too long is left
// to itself: its outcome is that it hung. An error means that the store failed,
// the context ended, or too many logs hung.
func (w *Worker) Do(ctx context.Context, l *Found) (fleet.Outcome, int64, error) {
	weight := min(max(l.unpacked()/secondSize, 1), atOnce)
	if err := w.room.Acquire(ctx, weight); err != nil {
		return fleet.Outcome{}, 0, err
	}
	type answer struct {
		outcome fleet.Outcome
		seconds int64
		err     error
	}
	answers := make(chan answer, 1)
	h := w.hand()
	h <- func() {
		defer w.room.Release(weight)
		if l.archive != nil {
			defer l.archive.done()
		}
		outcome, seconds, err := w.job.guarded(func() (fleet.Outcome, int64, error) { return w.do(context.WithoutCancel(ctx), l) }, l)
		answers <- answer{outcome, seconds, err}
	}
	timer := time.NewTimer(w.options.MaxTime)
	defer timer.Stop()
	select {
	case a := <-answers:
		w.rest(h)
		return a.outcome, a.seconds, a.err
	case <-timer.C:
		close(h) // it ends when the log does
	}
	if hung := w.hung.Add(1); hung > mostHung {
		return fleet.Outcome{}, 0, fmt.Errorf("%w: %d took longer than %v each, the last %s; the machine is too busy, or raise --max-time", ErrHung, hung, w.options.MaxTime, l.Path)
	}
	return w.job.lost(l, &refusal{fmt.Sprintf("took longer than %v and was given up; --max-time raises the limit, --retry tries again", w.options.MaxTime)}), 0, nil
}

func (w *Worker) do(ctx context.Context, l *Found) (fleet.Outcome, int64, error) {
	buffer, _ := w.buffers.Get().(*[]byte)
	if buffer == nil {
		buffer = new([]byte)
	}
	data, err := l.read(w.options.MaxBytes, *buffer)
	if err != nil {
		return w.job.lost(l, err), 0, nil
	}
	if cap(data) <= mostKept {
		*buffer = data
		defer w.buffers.Put(buffer)
	}
	return w.job.Do(ctx, l, data)
}
