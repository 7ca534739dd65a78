package ride

import (
	"math"
	"strings"
	"time"
	"unicode"
)

// A Track is a log as it was written: samples at the log's own times, before
// they are put on the one-second clock. Readers fill it; Track.Ride makes the
// Ride.
type Track struct {
	Name    string
	Epoch   time.Time // the moment that Time counts from, UTC; zero when the log has no absolute time
	Sources []Source
	Shifts  []RecordedShift // Second counts from Epoch
	Notes   []Note
	Match   *Match // how a second device's log was laid on it; nil for a log by itself

	Time    []float64               // s since Epoch, strictly increasing after cleaning
	Values  [ChannelCount][]float64 // nil, or as long as Time; NaN where the sample lacks the channel
	Origins [ChannelCount]Origin    // where each channel comes from; Absent is read as Device
}

// Sample begins a new sample at the given number of seconds since Epoch. All
// its channels are missing until Put stores them.
func (t *Track) Sample(seconds float64) {
	t.Time = append(t.Time, seconds)
	for c, column := range t.Values {
		if column != nil {
			t.Values[c] = append(column, math.NaN())
		}
	}
}

// Add is Sample with the values of all channels, NaN where missing.
func (t *Track) Add(seconds float64, values *[ChannelCount]float64) {
	t.Time = append(t.Time, seconds)
	for c, v := range values {
		switch {
		case t.Values[c] != nil:
			t.Values[c] = append(t.Values[c], v) // in place
		case v == v: // known
			t.Values[c] = append(missing(len(t.Time)-1, cap(t.Time)), v)
		}
	}
}

// Put stores one value of the newest sample. NaN stores nothing.
func (t *Track) Put(c Channel, v float64) {
	if math.IsNaN(v) {
		return
	}
	if t.Values[c] == nil {
		t.Values[c] = missing(len(t.Time), cap(t.Time))
	}
	t.Values[c][len(t.Time)-1] = v
}

// Has reports whether any sample holds the channel.
func (t *Track) Has(c Channel) bool {
	for _, v := range t.Values[c] {
		if !math.IsNaN(v) {
			return true
		}
	}
	return false
}

// Label makes text from a log fit for one line of a message: without control
// characters, and cut where it is too long for a name.
func Label(text string) string {
	const longest = 120
	text = strings.Map(func(r rune) rune {
		switch {
		case r == '\uFFFD':
			return -1
		case unicode.IsControl(r), unicode.Is(unicode.Zl, r), unicode.Is(unicode.Zp, r), unicode.Is(unicode.Bidi_Control, r):
			return ' '
		}
		return r
	}, strings.ToValidUTF8(text, ""))
	text = strings.Join(strings.Fields(text), " ")
	n := 0
	for i := range text {
		if n++; n > longest {
			return text[:i] + "…"
		}
	}
	return strings.Clone(text)
}

// file is the base name that notes about the track carry.
func (t *Track) file() string {
	if len(t.Sources) == 1 {
		return t.Sources[0].File
	}
	return ""
}

// missing returns a column of NaN.
func missing(length, capacity int) []float64 {
	column := make([]float64, length, max(length, capacity))
	for i := range column {
		column[i] = math.NaN()
	}
	return column
}
