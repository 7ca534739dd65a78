package ride

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"
)

const (
	// lateSamples is how many samples in a row may run behind the newest one
	// and still count as delivered late. More than that, and the clock was set
	// back.
	lateSamples = 5
	// mostSetBacks is how often a clock is believed to be set back in one log.
	// Above that the samples are in no order, and are sorted by time alone.
	mostSetBacks = 20
	// eternity is the number of seconds beyond which a time is no time.
	eternity = 1e12
)

// timed reports whether the number can be a time.
func timed(s float64) bool { return math.Abs(s) < eternity }

// Ordered returns the track with its samples in strictly increasing time.
//
// Samples without a time are dropped. Of several samples at one time the later
// value of each channel wins. A few samples that run behind were delivered
// late, and a stretch that repeats what was logged before was written twice:
// both are sorted into their place. A few samples that stand hours off those
// around them are left out. Any other step back means that the clock
// was set back, and the rest of the log is moved to follow what came before;
// the longest stretch between such steps keeps its own time. A log written
// newest first, or in no order at all, is sorted by time alone. Every repair is
// a note. A track already in order is returned as it is, not copied.
func (t *Track) Ordered() *Track {
	if t.inOrder() {
		return t
	}
	o := ordering{track: t, file: t.file()}
	if falls(t.Time) || !o.walk() {
		o.sortAll()
	}
	if len(o.late) > 0 {
		o.note("", fmt.Sprintf("%d samples were written late or twice and were sorted into their place by time", len(o.late)), "")
		o.samples = append(o.samples, o.late...)
		slices.SortStableFunc(o.samples, func(a, b placed) int { return cmp.Compare(a.time, b.time) })
	}
	if o.stray > 0 {
		o.note("", fmt.Sprintf("%d samples are hours off the time of those around them and were left out", o.stray), "")
	}
	if untimed := len(t.Time) - len(o.samples) - o.stray; untimed > 0 {
		o.note("", fmt.Sprintf("%d samples have no time and were left out", untimed), "")
	}
	return o.gather()
}

func (t *Track) inOrder() bool {
	last := math.Inf(-1)
	for _, s := range t.Time {
		if !(s > last) || !timed(s) {
			return false
		}
		last = s
	}
	return true
}

// A placed sample is an index into the track with the time it was given.
type placed struct {
	index int
	time  float64
}

type ordering struct {
	track   *Track
	file    string
	samples []placed
	late    []placed // to be sorted in
	stray   int      // samples whose time is damaged
	notes   []Note
	correct float64 // what the longest stretch's time was moved by
}

// falls reports whether time mostly runs backwards: a log written newest first.
func falls(times []float64) bool {
	down := 0
	for i := 1; i < len(times); i++ {
		if times[i] < times[i-1] {
			down++
		}
	}
	return 2*down > len(times)
}

// sortAll takes every sample at its own time.
func (o *ordering) sortAll() {
	*o = ordering{track: o.track, file: o.file}
	for i, s := range o.track.Time {
		if timed(s) {
			o.samples = append(o.samples, placed{i, s})
		}
	}
	slices.SortStableFunc(o.samples, func(a, b placed) int { return cmp.Compare(a.time, b.time) })
	o.note("", "the samples are not in order of time; they were sorted", "")
}

// walk places the samples one by one and repairs the clock on the way. It
// gives up, returning false, when the clock runs back too often.
func (o *ordering) walk() bool {
	times := o.track.Time
	step := typicalStep(times)
	high, move := math.Inf(-1), 0.0
	setBacks, stretch, longest := 0, 0, 0
	for i := 0; i < len(times); i++ {
		s := times[i]
		if !timed(s) {
			continue
		}
		s += move
		if ahead := o.ahead(i, move, high); ahead > 0 {
			o.stray += ahead
			i += ahead - 1
			continue
		}
		if s < high {
			behind := o.behind(i, move, high)
			if behind <= lateSamples || o.repeats(i, behind, move) {
				for j := i; j < i+behind; j++ {
					switch s := times[j] + move; {
					case !timed(s):
					case s < o.samples[0].time-LongestPause:
						o.stray++
					default:
						o.late = append(o.late, placed{j, s})
					}
				}
				i += behind - 1
				continue
			}
			if setBacks++; setBacks > mostSetBacks {
				return false
			}
			back := high - s
			move += back + step
			s = times[i] + move
			stretch = 0
			o.note(fmt.Sprintf("sample %d", i+1), fmt.Sprintf("the clock runs back by %.0f s; the log from here on was moved to follow what came before, so a pause between the two is unknown", back), "set the device's clock before a ride, not during it")
		}
		high = s
		o.samples = append(o.samples, placed{i, s})
		if stretch++; stretch > longest {
			longest, o.correct = stretch, move
		}
	}
	return true
}

// ahead counts the samples from i on that stand hours ahead while the log
// comes back to its time right after them: their time is damaged.
func (o *ordering) ahead(i int, move, high float64) int {
	times := o.track.Time
	if times[i]+move <= high+LongestPause || math.IsInf(high, -1) {
		return 0
	}
	for n := 1; n <= lateSamples && i+n < len(times); n++ {
		if s := times[i+n] + move; s >= high && s <= high+LongestPause {
			return n
		}
	}
	return 0
}

// behind counts the samples from i on that lie before the newest time so far.
func (o *ordering) behind(i int, move, high float64) int {
	n := 0
	for _, s := range o.track.Time[i:] {
		if timed(s) && s+move >= high {
			break
		}
		n++
	}
	return n
}

// repeats reports whether most of n samples from i on stand in the log already.
func (o *ordering) repeats(i, n int, move float64) bool {
	same := 0
	for j := i; j < i+n; j++ {
		s := o.track.Time[j] + move
		at, found := sort.Find(len(o.samples), func(k int) int {
			switch known := o.samples[k].time; {
			case s < known:
				return -1
			case s > known:
				return 1
			}
			return 0
		})
		if found && o.alike(o.samples[at].index, j) {
			same++
		}
	}
	return 2*same > n
}

func (o *ordering) alike(i, j int) bool {
	for _, column := range o.track.Values {
		if column == nil {
			continue
		}
		if a, b := column[i], column[j]; a != b && !(math.IsNaN(a) && math.IsNaN(b)) {
			return false
		}
	}
	return true
}

// gather copies the samples into a new track, one for each time.
func (o *ordering) gather() *Track {
	from := o.track
	to := *from
	to.Time = make([]float64, 0, len(o.samples))
	for c, column := range from.Values {
		if column != nil {
			to.Values[c] = make([]float64, 0, len(o.samples))
		}
	}
	same := 0
	for n, p := range o.samples {
		if n > 0 && p.time == o.samples[n-1].time {
			same++
			for c, column := range from.Values {
				if column != nil && !math.IsNaN(column[p.index]) {
					to.Values[c][len(to.Time)-1] = column[p.index]
				}
			}
			continue
		}
		to.Time = append(to.Time, p.time-o.correct)
		for c, column := range from.Values {
			if column != nil {
				to.Values[c] = append(to.Values[c], column[p.index])
			}
		}
	}
	if same > 0 {
		o.note("", fmt.Sprintf("%d samples repeat the time of another; the later value of each channel was kept", same), "")
	}
	to.Notes = append(slices.Clone(from.Notes), o.notes...)
	return &to
}

func (o *ordering) note(place, text, cure string) {
	o.notes = append(o.notes, Note{File: o.file, Place: place, Text: text, Cure: cure})
}

// typicalStep is the median time from one sample to the next, in seconds; 1
// when there is none.
func typicalStep(times []float64) float64 {
	const enough = 1000
	steps := make([]float64, 0, min(len(times), enough))
	for i := 1; i < len(times) && len(steps) < enough; i++ {
		if d := times[i] - times[i-1]; d > 0 && timed(d) {
			steps = append(steps, d)
		}
	}
	if len(steps) == 0 {
		return 1
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}
