package counter

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"time"
)

// A state is where a job stands.
type state string

const (
	waiting   state = "waiting"
	working   state = "working"
	done      state = "done"
	failed    state = "failed"
	cancelled state = "cancelled"
)

func (s state) over() bool { return s == done || s == failed || s == cancelled }

var errCancelled = errors.New("cancelled")

// Folders of a job.
const (
	logs      = "logs"
	documents = "documents"
)

// A job is one order and what became of it. Its folder holds the logs while it
// is worked on, and its documents afterwards.
type job struct {
	id    int
	dir   string
	order Order
	keep  bool
	stop  context.CancelCauseFunc
	ended chan struct{} // closed when no work goes on any more

	mu       sync.Mutex
	state    state
	progress Progress
	trouble  string // why it failed
	outcome  Outcome
	kept     string // where it was kept
}

// status is what the page is told.
type status struct {
	ID        int           `json:"id"`
	State     state         `json:"state"`
	Files     []string      `json:"files"`
	After     int           `json:"after"`
	Bike      string        `json:"bike"`
	Doing     string        `json:"doing,omitempty"`
	Done      int           `json:"done"`
	Total     int           `json:"total"`
	Trouble   string        `json:"trouble,omitempty"`
	Problems  []Problem     `json:"problems,omitempty"`
	Summary   []string      `json:"summary,omitempty"`
	Documents []documentRef `json:"documents,omitempty"`
	Kept      string        `json:"kept,omitempty"`
}

type documentRef struct {
	Name  string `json:"name"`
	Title string `json:"title"`
}

func (j *job) status() status {
	j.mu.Lock()
	defer j.mu.Unlock()
	st := status{
		ID: j.id, State: j.state, After: len(j.order.After), Bike: j.order.BikeFile,
		Doing: j.progress.Doing, Done: j.progress.Done, Total: j.progress.Total,
		Trouble: j.trouble, Problems: j.outcome.Problems, Summary: j.outcome.Summary, Kept: j.kept,
	}
	for _, f := range append(append([]File(nil), j.order.Before...), j.order.After...) {
		st.Files = append(st.Files, f.Name)
	}
	for _, d := range j.outcome.Documents {
		st.Documents = append(st.Documents, documentRef{d.Name, d.Title})
	}
	return st
}

func (j *job) tell(p Progress) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if !j.state.over() {
		j.state, j.progress = working, p
	}
}

// finish ends a job once; later calls change nothing. The outcome's documents
// are on disk by now, so their data is let go.
func (j *job) finish(out Outcome, kept string, err error) {
	for i := range out.Documents {
		out.Documents[i].Data = nil
	}
	j.mu.Lock()
	defer j.mu.Unlock()
	if j.state.over() {
		return
	}
	j.outcome, j.kept = out, kept
	switch {
	case err == nil:
		j.state = done
	case errors.Is(err, errCancelled):
		j.state = cancelled
	default:
		j.state, j.trouble = failed, err.Error()
	}
}

// store writes the documents into the job's folder, and with the logs to
// another where keeping was asked for; it returns that place.
func (j *job) store(out Outcome, keepIn string, now time.Time) (string, error) {
	if err := writeAll(filepath.Join(j.dir, documents), out.Documents); err != nil {
		return "", err
	}
	if !j.keep {
		return "", nil
	}
	place := filepath.Join(keepIn, fmt.Sprintf("%s job %d", now.Format("2006-01-02 15.04.05"), j.id))
	if err := os.MkdirAll(keepIn, 0o700); err != nil {
		return "", err
	}
	if err := os.Mkdir(place, 0o700); err != nil { // fails where one is there: nothing is overwritten
		return "", err
	}
	if err := os.CopyFS(filepath.Join(place, logs), os.DirFS(filepath.Join(j.dir, logs))); err != nil {
		return "", err
	}
	return place, writeAll(place, out.Documents)
}

func writeAll(dir string, all []Document) error {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	for _, d := range all {
		if err := os.WriteFile(filepath.Join(dir, d.Name), d.Data, 0o600); err != nil {
			return err
		}
	}
	return nil
}

func (j *job) over() bool {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.state.over()
}
