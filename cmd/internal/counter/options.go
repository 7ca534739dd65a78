package counter

import (
	"context"
	"io"
	"runtime"
	"time"
)

// Options are what the page offers and the limits it works within. Work is
// required; zero limits are the defaults named beside them.
type Options struct {
	Bikes []Bike // to pick from, the first one picked
	Work  Work

	KeepDir string           // where jobs are kept when asked; empty: they cannot be
	WorkDir string           // parent of the folder for work in progress; empty is the system's for temporary files
	Errors  io.Writer        // faults of the program itself; nil: they are told on the page only
	Now     func() time.Time // names the folders of kept jobs; nil is the clock

	MaxUpload  int64         // bytes of one upload, 500 MB
	MaxFiles   int           // of one upload, 300
	UploadTime time.Duration // for one upload to arrive, 10 min
	JobTime    time.Duration // for one job, 10 min
	AtOnce     int           // jobs worked on, the number of processors and at least 2
	Held       int           // jobs remembered, 50; the oldest finished ones are dropped
}

// A Bike is a profile to pick.
type Bike struct {
	Name string
	YAML []byte
}

// Work reviews what one job brought. It calls tell as it gets on, and returns
// early with ctx's error when that ends.
type Work func(ctx context.Context, o Order, tell func(Progress)) (Outcome, error)

// An Order is what the page asks for.
type Order struct {
	Before   []File // the rides; the first group where there are two
	After    []File // rides since; may be empty
	Second   []File // logs of a second device on the same rides; may be empty
	Bike     []byte // profile, YAML
	BikeFile string // its name, for messages
	Learn    bool   // find the gears from the rides; all else as in Bike
	Tyre     string // ISO 5775 size of the driven wheel when learning; empty: as in Bike
}

// A File is an uploaded log on disk, under the name it had.
type File struct {
	Name string
	Path string
}

// Progress tells how far a job is.
type Progress struct {
	Doing       string // "reading monday.fit"
	Done, Total int    // steps; Total 0 where unknown
}

// An Outcome is what a job made.
type Outcome struct {
	Documents []Document
	Problems  []Problem // inputs that could not be used, or only in part
	Summary   []string  // a few plain sentences
}

// A Document is a file to open or save.
type Document struct {
	Name  string // "report.html"; the end of its address
	Title string // what the page calls it
	Data  []byte
}

// A Problem names an input and what is the matter with it.
type Problem struct {
	File string `json:"file"`
	Text string `json:"text"`
}

func (o Options) withDefaults() Options {
	set := func(n *int, v int) {
		if *n <= 0 {
			*n = v
		}
	}
	set(&o.MaxFiles, 300)
	set(&o.AtOnce, max(2, runtime.GOMAXPROCS(0)))
	set(&o.Held, 50)
	if o.MaxUpload <= 0 {
		o.MaxUpload = 500e6
	}
	if o.UploadTime <= 0 {
		o.UploadTime = 10 * time.Minute
	}
	if o.JobTime <= 0 {
		o.JobTime = 10 * time.Minute
	}
	if o.Errors == nil {
		o.Errors = io.Discard
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	return o
}
