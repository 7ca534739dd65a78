package ride

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"
)

const (
	// Pause is the longest gap in seconds that is bridged by a straight line.
	// Where a log is silent for longer, the ride is paused.
	Pause = 10
	// LongestPause is the gap in seconds above which a log holds more than one
	// ride: Track.Split parts it there.
	LongestPause = 6 * 3600
	// LongestRide is the number of seconds that one Ride may hold. A log left
	// on for longer is cut.
	LongestRide = 48 * 3600
)

// ErrEmpty means that a track holds no sample with a time.
var ErrEmpty = errors.New("no sample with a time")

// Ride puts the track on the one-second clock.
//
// Second 0 is the time of the first sample; second k takes the samples nearer
// to it than to its neighbours. Of several samples in one second, quantities
// that flow (speed, cadence, power, volts, amperes, temperatures, altitude)
// take the mean, and those that tell where the ride stands (distance,
// position, charge, assist level) the last. Across gaps of at most Pause
// seconds a channel runs on a straight line, marked Interpolated; an assist
// level holds. Seconds inside a longer gap of the whole log are paused.
//
// Values that no ride can hold and positions that jump are dropped. Speed and
// distance are completed from one another and from positions, marked Derived.
// Every such step is a note. A track longer than LongestRide, or parted by a
// gap above LongestPause, gives its piece with the most samples.
func (t *Track) Ride() (*Ride, error) { return t.RideIn(new(Room)) }

// RideIn is Ride in memory that has held another ride: that one is gone.
func (t *Track) RideIn(room *Room) (*Ride, error) {
	ordered := t.Ordered()
	if len(ordered.Time) == 0 {
		return nil, fmt.Errorf("%s: %w; the log may be empty or may not be of a ride", named(t), ErrEmpty)
	}
	piece := ordered.mostSamples()
	from, to := piece.Time[0], piece.Time[len(piece.Time)-1]
	r := room.ride(int(math.Round(to-from)) + 1)
	r.Name, r.Sources, r.Notes, r.Match = piece.Name, slices.Clone(piece.Sources), slices.Clone(piece.Notes), piece.Match
	if !piece.Epoch.IsZero() {
		r.Start = piece.Epoch.Add(time.Duration(math.Round(from * 1e9)))
	}
	for _, s := range piece.Shifts {
		if s.Second -= from; s.Second >= 0 && s.Second <= to-from {
			r.Shifts = append(r.Shifts, s)
		}
	}

	seconds := secondsOf(piece.Time)
	r.pauseBetween(seconds, piece)
	for c := range ChannelCount {
		if piece.Values[c] != nil {
			r.place(c, seconds, piece, room)
		}
	}
	r.filterPositions(piece.file())
	for c := range ChannelCount {
		r.bridge(c)
	}
	r.complete(piece.file())
	for c := range ChannelCount {
		if r.Has(c) {
			r.SetColumn(c, r.columns[c], r.marks[c], r.origins[c])
		}
	}
	return r, nil
}

// A Room is memory for one ride at a time. The zero value is ready.
type Room struct {
	columns [ChannelCount][]float64
	marks   [ChannelCount][]Mark
	paused  []bool
}

// ride is New in this memory.
func (m *Room) ride(seconds int) *Ride {
	m.paused = zeros(m.paused, seconds)
	return &Ride{seconds: seconds, paused: m.paused}
}

// column returns room for a channel, nothing marked as known.
func (m *Room) column(c Channel, seconds int) ([]float64, []Mark) {
	if cap(m.columns[c]) < seconds {
		m.columns[c] = make([]float64, seconds)
	}
	m.marks[c] = zeros(m.marks[c], seconds)
	return m.columns[c][:seconds], m.marks[c]
}

// zeros is n zeros, in the memory that is there where it is enough.
func zeros[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	s = s[:n]
	clear(s)
	return s
}

// secondsOf gives the second that each sample falls in.
func secondsOf(times []float64) []int32 {
	seconds := make([]int32, len(times))
	for i, s := range times {
		seconds[i] = int32(s - times[0] + 0.5)
	}
	return seconds
}

// pauseBetween marks the seconds inside the long gaps of the log.
func (r *Ride) pauseBetween(seconds []int32, t *Track) {
	paused := 0
	for i := 1; i < len(seconds); i++ {
		if seconds[i]-seconds[i-1] <= Pause {
			continue
		}
		for k := seconds[i-1] + 1; k < seconds[i]; k++ {
			r.paused[k] = true
			paused++
		}
	}
	if step := typicalStep(t.Time); step > Pause {
		r.Notes = append(r.Notes, Note{File: t.file(), Text: fmt.Sprintf("samples are %.0f s apart, so that %d of %d seconds count as paused", step, paused, r.seconds), Cure: "set the device to log every second"})
	}
}

// place puts the samples of one channel into their seconds.
func (r *Ride) place(c Channel, seconds []int32, t *Track, room *Room) {
	values := t.Values[c]
	column, marks := room.column(c, r.seconds)
	low, high := c.Plausible()
	last, filled := c.stands(), int32(0) // seconds before filled have their value
	sum, count := 0.0, 0.0
	dropped, first := 0, 0
	for i, v := range values {
		if !(v >= low && v <= high) {
			if v == v { // known, but cannot be
				if dropped == 0 {
					first = i
				}
				dropped++
			}
			continue
		}
		k := seconds[i]
		if k < filled && !last {
			sum += v
			count++
			column[k] = sum / count
			continue
		}
		for ; filled < k; filled++ {
			column[filled] = math.NaN()
		}
		column[k], marks[k], filled = v, Measured, k+1
		sum, count = v, 1
	}
	for ; int(filled) < len(column); filled++ {
		column[filled] = math.NaN()
	}
	if dropped > 0 {
		r.Notes = append(r.Notes, Note{
			File:  t.file(),
			Place: fmt.Sprintf("second %d", seconds[first]),
			Text:  fmt.Sprintf("%s %g %s cannot be; %d values outside %g to %g %s were dropped", c, values[first], c.Unit(), dropped, low, high, c.Unit()),
			Cure:  "check the sensor and the unit of the column",
		})
	}
	origin := t.Origins[c]
	if origin == Absent {
		origin = Device
	}
	r.columns[c], r.marks[c], r.origins[c] = column, marks, origin
}

// bridge fills the short gaps of a channel.
func (r *Ride) bridge(c Channel) {
	column, marks := r.columns[c], r.marks[c]
	last := -1
	for k, m := range marks {
		if m == Missing {
			continue
		}
		if gap := k - last; last >= 0 && gap > 1 && gap <= Pause {
			from, step := column[last], (column[k]-column[last])/float64(gap)
			if c.stepwise() {
				step = 0
			}
			if c == Longitude && math.Abs(column[k]-from) > 180 {
				step -= math.Copysign(360, step) / float64(gap)
			}
			for n := 1; n < gap; n++ {
				v := from + step*float64(n)
				if c == Longitude && math.Abs(v) > 180 {
					v -= math.Copysign(360, v)
				}
				column[last+n], marks[last+n] = v, Interpolated
			}
		}
		last = k
	}
}

// mostSamples is the piece of the track that one ride can hold.
func (t *Track) mostSamples() *Track {
	best := t
	if pieces := t.pieces(); len(pieces) > 1 {
		most := pieces[0]
		for _, p := range pieces {
			if p.end-p.start > most.end-most.start {
				most = p
			}
		}
		best = t.slice(most)
		best.Notes = append(slices.Clone(best.Notes), Note{
			File: t.file(),
			Text: fmt.Sprintf("the log is silent for more than %d h at least once; of its %d samples the %d of the fullest piece were kept", LongestPause/3600, len(t.Time), len(best.Time)),
			Cure: "split the log into one file a ride",
		})
	}
	end := len(best.Time)
	for best.Time[end-1]-best.Time[0] > LongestRide-1 {
		end--
	}
	if end == len(best.Time) {
		return best
	}
	cut := best.slice(piece{0, end})
	cut.Notes = append(slices.Clone(cut.Notes), Note{
		File:  t.file(),
		Place: fmt.Sprintf("sample %d", end+1),
		Text:  fmt.Sprintf("the log runs for %.0f h; the %d samples after the first %d h were left out", (best.Time[len(best.Time)-1]-best.Time[0])/3600, len(best.Time)-end, LongestRide/3600),
		Cure:  "split the log into one file a ride",
	})
	return cut
}

// Split parts a track wherever it is silent for longer than LongestPause. The
// pieces share the track's memory. Pieces of a few samples, as devices write
// them before their clock is set, are left out where there are fuller ones; so
// are the emptiest of more pieces than mostPieces. A track in one piece is
// returned as it is.
func (t *Track) Split() []*Track {
	const (
		mostPieces = 400
		few        = 10
	)
	t = t.Ordered()
	pieces := t.pieces()
	if len(pieces) < 2 {
		return []*Track{t}
	}
	fullest := slices.Clone(pieces)
	slices.SortStableFunc(fullest, func(a, b piece) int { return (b.end - b.start) - (a.end - a.start) })
	least := min(few, fullest[0].end-fullest[0].start)
	if len(fullest) > mostPieces {
		least = max(least, fullest[mostPieces].end-fullest[mostPieces].start+1)
	}
	least = min(least, fullest[0].end-fullest[0].start)
	var split []*Track
	left := 0
	for _, p := range pieces {
		if p.end-p.start < least || len(split) == mostPieces {
			left += p.end - p.start
			continue
		}
		split = append(split, t.slice(p))
	}
	if left > 0 {
		first := split[0]
		first.Notes = append(slices.Clone(first.Notes), Note{
			File: t.file(),
			Text: fmt.Sprintf("%d samples stand in pieces of fewer than %d, hours from the others, and were left out", left, least),
			Cure: "set the device's clock before a ride",
		})
	}
	return split
}

// A piece is a run of samples without a long silence.
type piece struct{ start, end int }

func (t *Track) pieces() []piece {
	var pieces []piece
	start := 0
	for i := 1; i < len(t.Time); i++ {
		if t.Time[i]-t.Time[i-1] > LongestPause {
			pieces = append(pieces, piece{start, i})
			start = i
		}
	}
	return append(pieces, piece{start, len(t.Time)})
}

// slice is a piece of the track, in the same memory.
func (t *Track) slice(p piece) *Track {
	cut := *t
	cut.Time = t.Time[p.start:p.end:p.end]
	for c, column := range t.Values {
		if column != nil {
			cut.Values[c] = column[p.start:p.end:p.end]
		}
	}
	cut.Shifts = nil
	for _, s := range t.Shifts {
		if s.Second >= t.Time[p.start] && s.Second <= t.Time[p.end-1] {
			cut.Shifts = append(cut.Shifts, s)
		}
	}
	return &cut
}

func named(t *Track) string {
	if f := t.file(); f != "" {
		return f
	}
	if t.Name != "" {
		return t.Name
	}
	return "log"
}
