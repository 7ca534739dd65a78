package counter

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"runtime/debug"
	"sync"
	"time"
)

// A Server is the page and its jobs.
type Server struct {
	o      Options
	dir    string        // of all jobs; removed at the end
	places chan struct{} // taken by jobs that are worked on
	doors  chan struct{} // taken by uploads

	mu   sync.Mutex
	jobs []*job // in order of their numbers
	last int
}

// New makes a server with a folder for work in progress, which Close removes.
func New(o Options) (*Server, error) {
	if o.Work == nil {
		return nil, errors.New("counter: no work to do")
	}
	o = o.withDefaults()
	sweep(o.WorkDir)
	dir, err := os.MkdirTemp(o.WorkDir, fmt.Sprintf("%s%d-*", folderName, os.Getpid())) // its mode is 0700
	if err != nil {
		return nil, err
	}
	return &Server{o: o, dir: dir, places: make(chan struct{}, o.AtOnce), doors: make(chan struct{}, mostUploads)}, nil
}

// mostUploads is how many uploads may come in at a time.
const mostUploads = 8

// Close stops all jobs, waits for their ends and removes what was dropped.
func (s *Server) Close() error {
	s.mu.Lock()
	all := s.jobs
	s.jobs = nil
	s.mu.Unlock()
	for _, j := range all {
		j.stop(errCancelled)
	}
	for _, j := range all {
		<-j.ended
	}
	return os.RemoveAll(s.dir)
}

// Serve answers on l until ctx ends. The listener must be one of Listen.
func (s *Server) Serve(ctx context.Context, l net.Listener) error {
	hosts, err := ownHosts(l.Addr())
	if err != nil {
		return err
	}
	server := &http.Server{
		Handler:           guard{hosts, s.routes()},
		ReadHeaderTimeout: 10 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    64 << 10,
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(l) }()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	grace, cancel := context.WithTimeout(context.Background(), 3*time.Second)
	defer cancel()
	if err := server.Shutdown(grace); err != nil {
		return server.Close()
	}
	return nil
}

// accept takes an upload in and starts its job.
func (s *Server) accept(w http.ResponseWriter, r *http.Request) (*job, error) {
	select {
	case s.doors <- struct{}{}:
		defer func() { <-s.doors }()
	default:
		return nil, refuse(http.StatusServiceUnavailable, "%d uploads are coming in already. Try again in a moment.", mostUploads)
	}
	dir, err := os.MkdirTemp(s.dir, "job-*")
	if err != nil {
		return nil, err
	}
	order, keep, err := s.receive(w, r, filepath.Join(dir, logs))
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	ctx, stop := context.WithCancelCause(context.Background())
	j := &job{dir: dir, order: order, keep: keep, state: waiting, stop: stop, ended: make(chan struct{})}
	s.mu.Lock()
	s.last++
	j.id = s.last
	s.jobs = append(s.jobs, j)
	s.mu.Unlock()
	s.trim()
	go s.run(ctx, j)
	return j, nil
}

// trim forgets the oldest finished jobs beyond those that are held.
func (s *Server) trim() {
	s.mu.Lock()
	old := s.surplus()
	s.mu.Unlock()
	for _, j := range old {
		os.RemoveAll(j.dir)
	}
}

// surplus takes the oldest finished jobs from the list until it is short
// enough.
func (s *Server) surplus() []*job {
	var old []*job
	for i := 0; i < len(s.jobs) && len(s.jobs) > s.o.Held; {
		if j := s.jobs[i]; j.over() {
			old = append(old, j)
			s.jobs = append(s.jobs[:i:i], s.jobs[i+1:]...)
			continue
		}
		i++
	}
	return old
}

// run works a job off within its time, once a place is free. For the user a
// job that is stopped is over at once; its place is free when the work has
// really ended.
func (s *Server) run(ctx context.Context, j *job) {
	defer s.trim()
	defer close(j.ended)
	defer j.stop(nil)
	defer os.RemoveAll(filepath.Join(j.dir, logs))
	select {
	case s.places <- struct{}{}:
	case <-ctx.Done():
		j.finish(Outcome{}, "", context.Cause(ctx))
		return
	}
	defer func() { <-s.places }()
	tooLong := fmt.Errorf("this took longer than %s and was stopped; drop fewer rides at a time", s.o.JobTime)
	ctx, release := context.WithTimeoutCause(ctx, s.o.JobTime, tooLong)
	defer release()
	unwatch := context.AfterFunc(ctx, func() { j.finish(Outcome{}, "", context.Cause(ctx)) })
	defer unwatch()

	j.tell(Progress{Doing: "starting"})
	out, err := s.safely(ctx, j)
	if err != nil || ctx.Err() != nil {
		out.Documents = nil
		if ctx.Err() != nil {
			err = context.Cause(ctx)
		}
		j.finish(out, "", err)
		return
	}
	kept, err := j.store(out, s.o.KeepDir, s.o.Now())
	j.finish(out, kept, err)
}

// safely turns a fault of the program in one job into that job's failure, so
// that the others go on.
func (s *Server) safely(ctx context.Context, j *job) (out Outcome, err error) {
	defer func() {
		if fault := recover(); fault != nil {
			err = fmt.Errorf("the program itself is at fault: %v; please report it with the log that caused it", fault)
			fmt.Fprintf(s.o.Errors, "job %d: %v\n%s", j.id, fault, debug.Stack())
		}
	}()
	return s.o.Work(ctx, j.order, j.tell)
}

// find is the job of that number, nil where there is none.
func (s *Server) find(id int) *job {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, j := range s.jobs {
		if j.id == id {
			return j
		}
	}
	return nil
}

// remove stops a job that goes on; one that is over is forgotten with all it
// made.
func (s *Server) remove(j *job) error {
	if !j.over() {
		j.stop(errCancelled)
		j.finish(Outcome{}, "", errCancelled)
		return nil
	}
	s.mu.Lock()
	for i, other := range s.jobs {
		if other == j {
			s.jobs = append(s.jobs[:i:i], s.jobs[i+1:]...)
			break
		}
	}
	s.mu.Unlock()
	<-j.ended
	return os.RemoveAll(j.dir)
}
