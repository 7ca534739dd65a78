package fleetrun

import (
	"runtime"
	"time"

	"cogledger/analysis/fleet"
	"cogledger/ingest"
	"cogledger/ingest/ride"
)

// Options bound a run. The zero value takes the defaults.
type Options struct {
	Jobs     int           // logs in work at once; one a processor
	MaxBytes int64         // of one log, unpacked; 64 MiB
	MaxTime  time.Duration // for one log; a minute
	Retry    bool          // try logs again that had a problem and have not changed

	// DoubtEvery: one log in so many is reviewed with intervals, from which the
	// fleet's are taken; by DoubtEvery of the logs found. Which ones depends on
	// their content alone.
	DoubtEvery int

	// Version marks what is stored, and what is stored by a newer one is left
	// alone; fleet.Version().
	Version string

	// Progress is told how far the run is, never from two goroutines at once.
	Progress func(Progress)

	// Read reads the rides in the bytes of a log, name being its base name;
	// ingest.Read.
	Read func(data []byte, name string) ([]*ride.Track, error)
}

func (o Options) orDefaults() Options {
	if o.Jobs <= 0 {
		o.Jobs = runtime.GOMAXPROCS(0)
	}
	if o.MaxBytes <= 0 {
		o.MaxBytes = 64 << 20
	}
	if o.MaxTime <= 0 {
		o.MaxTime = time.Minute
	}
	if o.DoubtEvery <= 0 {
		o.DoubtEvery = leastDoubted
	}
	if o.Version == "" {
		o.Version = fleet.Version()
	}
	if o.Progress == nil {
		o.Progress = func(Progress) {}
	}
	if o.Read == nil {
		o.Read = func(data []byte, name string) ([]*ride.Track, error) {
			return ingest.Read(data, name, ingest.Options{Limits: ingest.Limits{Bytes: int(o.MaxBytes)}})
		}
	}
	return o
}

const (
	wantDoubted  = 60  // logs to draw, about: so that fewer than 30 hardly ever come of it
	leastDoubted = 128 // one in so many at least
)

// EnoughToCount is the number of logs beyond which DoubtEvery stays the same.
const EnoughToCount = wantDoubted * leastDoubted

// DoubtEvery is one in how many of a fleet's logs to review with intervals: all
// of a small fleet, then between 60 and 120 until it is one in 128. The numbers
// are powers of two: whoever is drawn stays drawn in a smaller fleet.
func DoubtEvery(logs int) int {
	every := 1
	for every < leastDoubted && logs >= 2*every*wantDoubted {
		every *= 2
	}
	return every
}

// Progress is how far a run is.
type Progress struct {
	Total   int           // logs to be done
	Done    int           // stored, those with a problem too
	Failed  int           // of them with a problem
	Seconds int64         // of riding reviewed
	Rate    float64       // logs a second of late
	Left    time.Duration // by that rate; 0 before it can be told
}

// A Report is what a run did.
type Report struct {
	Found    int // logs found
	Current  int // of them nothing to do
	Later    int // of those, the result of a later version of the analysis
	Assigned int // of those, handed to another bike, rider or group
	Reviewed int
	Copies   int // with the content of another log, or of their own as stored
	Failed   int
	Rides    int
	Seconds  int64 // of riding reviewed
	Took     time.Duration
	Partly   []Problem // logs of whose rides some could not be used
}
