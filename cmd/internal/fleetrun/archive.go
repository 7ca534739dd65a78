package fleetrun

import (
	"archive/zip"
	"fmt"
	"io"
	"sync"
)

// An archive is a zip that is open while any of its logs is being read.
type archive struct {
	path string

	mu      sync.Mutex
	reader  *zip.ReadCloser
	members map[string]*zip.File
	wanted  int // logs of it still to be done
}

// open begins to read a member. The zip is opened for the first of them.
func (a *archive) open(name string) (io.ReadCloser, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.reader == nil {
		r, err := zip.OpenReader(a.path)
		if err != nil {
			return nil, err
		}
		a.reader, a.members = r, make(map[string]*zip.File, len(r.File))
		for _, m := range r.File {
			a.members[m.Name] = m
		}
	}
	m := a.members[name]
	if m == nil {
		return nil, fmt.Errorf("%s is no longer in the zip", name)
	}
	return m.Open()
}

// A log of the archive is done with: after the last, the zip is closed.
func (a *archive) done() {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.wanted--; a.wanted == 0 {
		a.shut()
	}
}

// close closes the zip though some of its logs were not done.
func (a *archive) close() {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.shut()
}

func (a *archive) shut() {
	if a.reader != nil {
		a.reader.Close()
		a.reader, a.members = nil, nil
	}
}
