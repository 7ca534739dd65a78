// Package ride holds one ride as columns on a uniform one-second clock.
//
// A Ride is what every reader produces and the only thing the analysis reads:
// it knows nothing of file formats. Each channel is a []float64 with one value
// a second, NaN where nothing is known, and a Mark a second that tells a
// measured value from one interpolated across a short gap. Missing is never
// zero.
package ride

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// A Ride is one ride on a clock of one second, starting at Start.
type Ride struct {
	Name    string    // title from the log or the file's name; data, to be escaped wherever it is shown
	Start   time.Time // time of second 0, UTC; zero when the log has no absolute time
	Sources []Source  // the logs it was made from
	Shifts  []RecordedShift
	Notes   []Note // what a reader or the analysis has to say to the user
	Match   *Match // how a second device's log was laid on it; nil for a log by itself

	seconds int
	columns [ChannelCount][]float64
	marks   [ChannelCount][]Mark
	origins [ChannelCount]Origin
	paused  []bool
}

// New returns an empty ride of the given number of seconds.
func New(seconds int) *Ride {
	return &Ride{seconds: seconds, paused: make([]bool, seconds)}
}

// Len is the number of seconds, pauses included.
func (r *Ride) Len() int { return r.seconds }

// Has reports whether the channel holds at least one value.
func (r *Ride) Has(c Channel) bool { return r.columns[c] != nil }

// Column returns the channel's values, one a second, NaN where missing; nil
// when the channel is absent. The slice is the ride's own: do not write to it.
func (r *Ride) Column(c Channel) []float64 { return r.columns[c] }

// Marks returns how each value of the channel came about; nil when absent.
func (r *Ride) Marks(c Channel) []Mark { return r.marks[c] }

// Origin tells where the channel comes from.
func (r *Ride) Origin(c Channel) Origin { return r.origins[c] }

// At returns the channel's value at second i, NaN when missing or absent.
func (r *Ride) At(c Channel, i int) float64 {
	if r.columns[c] == nil {
		return math.NaN()
	}
	return r.columns[c][i]
}

// Paused reports whether second i lies in a gap of the log: nothing is booked there.
func (r *Ride) Paused(i int) bool { return r.paused[i] }

// SetPaused marks second i as lying in a gap of the log.
func (r *Ride) SetPaused(i int, paused bool) { r.paused[i] = paused }

// SetColumn stores a channel. Both slices are kept, not copied; marks may be
// nil, then every finite value counts as measured. A column without any finite
// value is stored as absent.
func (r *Ride) SetColumn(c Channel, values []float64, marks []Mark, from Origin) {
	if len(values) != r.seconds || marks != nil && len(marks) != r.seconds {
		panic(fmt.Sprintf("ride: column %s has %d values and %d marks on a clock of %d s", c, len(values), len(marks), r.seconds))
	}
	if marks == nil {
		marks = make([]Mark, len(values))
		for i, v := range values {
			if !math.IsNaN(v) {
				marks[i] = Measured
			}
		}
	}
	if !slices.ContainsFunc(marks, func(m Mark) bool { return m != Missing }) {
		r.columns[c], r.marks[c], r.origins[c] = nil, nil, Absent
		return
	}
	r.columns[c], r.marks[c], r.origins[c] = values, marks, from
}

// Channels lists the channels that hold values, in their fixed order.
func (r *Ride) Channels() []Channel {
	var held []Channel
	for c := range ChannelCount {
		if r.Has(c) {
			held = append(held, c)
		}
	}
	return held
}

// A Source is one log file.
type Source struct {
	File   string // base name
	Format string // "FIT", "GPX", "TCX", "CSV"
	Device string // what the log calls its device; empty if it does not say
	Serial string // the device's serial number; empty if it does not say
	Made   bool   // the log says of itself that it was made by simulation
	Sport  string // what the log says it is of, where that is not cycling; else empty
}

// A RecordedShift is a gear change that the bike itself reported.
type RecordedShift struct {
	Second      float64 // seconds since the ride's Start
	FrontTeeth  int     // 0 where the record holds no plausible value
	RearTeeth   int
	FrontNumber int // counted from the innermost, the smallest ring; 0 where not recorded
	RearNumber  int // counted from the innermost, the largest sprocket; 0 where not recorded
}

// A Match tells how the log of a second device was laid on the ride's, with
// what is needed to draw it.
type Match struct {
	First, Second string  // the two logs
	Channel       Channel // that was compared
	OffsetS       float64 // from the first log's start to the second's
	DriftPPM      float64 // by which the second clock runs slower
	ByHand        bool    // the user gave the offset
	Correlation   float64 // of the aligned channel; NaN if it cannot be compared
	RunnerUp      float64 // at the best offset elsewhere; NaN if there was none

	A, B               []float64 // the channel of both logs, one a second; NaN where missing
	Lags, Correlations []float64 // s around the offset, and the correlation there; nil if given by hand
}

// A Note is something the user should know about the input or the result.
type Note struct {
	File  string // base name of the file; empty when it concerns the ride as a whole
	Place string // line, byte, record or second; empty when it concerns the whole file
	Text  string // what is the matter and what follows from it
	Cure  string // what to do about it; empty where nothing can be done
}

func (n Note) String() string {
	s := n.Text
	if n.Place != "" {
		s = n.Place + ": " + s
	}
	if n.File != "" {
		s = n.File + ": " + s
	}
	if n.Cure != "" {
		s += " (" + n.Cure + ")"
	}
	return s
}
