package ingest

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"cogledger/ingest/ride"
)

// merge lays b's channels on a's clock. The samples of the joined track are
// a's, and every second of a's clock in which b runs without it. Both tracks are in
// order.
func merge(a, b *ride.Track, report JoinReport) *ride.Track {
	a0, b0 := a.Time[0], b.Time[0]
	joined := &ride.Track{Name: a.Name, Epoch: a.Epoch, Sources: slices.Concat(a.Sources, b.Sources), Notes: slices.Concat(a.Notes, b.Notes), Origins: a.Origins}

	// b's samples on a's clock.
	moved := make([]float64, len(b.Time))
	for i, s := range b.Time {
		moved[i] = a0 + report.toA(s-b0)
	}
	joined.Time = times(a.Time, moved)
	for c := range ride.ChannelCount {
		fromA := a.Has(c) && !(b.Has(c) && preferred(c, a.Origins[c], b.Origins[c]))
		switch {
		case fromA:
			joined.Values[c] = spread(a.Time, a.Values[c], joined.Time)
			if b.Has(c) && c != ride.Distance { // two counters do not continue one another
				fill(joined.Values[c], resampled(moved, b.Values[c], joined.Time, c), joined.Time, a.Time)
			}
		case b.Has(c):
			joined.Values[c] = resampled(moved, b.Values[c], joined.Time, c)
			joined.Origins[c] = b.Origins[c]
		}
	}
	joined.Shifts = slices.Clone(a.Shifts)
	if len(a.Shifts) == 0 {
		for _, s := range b.Shifts {
			s.Second = a0 + report.toA(s.Second-b0)
			joined.Shifts = append(joined.Shifts, s)
		}
	}
	joined.Notes = append(joined.Notes, report.note(a, b))
	joined.Match = report.match(a, b)
	return joined
}

// preferred reports whether b's source of a channel is better than a's: a
// wheel tells speed and distance better than satellites.
func preferred(c ride.Channel, a, b ride.Origin) bool {
	return (c == ride.Speed || c == ride.Distance) && b == ride.WheelSensor && a != ride.WheelSensor
}

// times are the sample times of the joined track: a's, and in its gaps and
// beyond its ends the whole seconds of its clock in which b has samples.
func times(a, b []float64) []float64 {
	const apart = 1.5 // s: closer samples of a leave no second to b
	all := slices.Clone(a)
	next := 0
	last := math.Inf(-1)
	for _, s := range b {
		k := a[0] + math.Round(s-a[0])
		if k <= last {
			continue
		}
		for next < len(a) && a[next] < k {
			next++
		}
		free := true
		if next < len(a) && (a[next]-k < 0.5 || next > 0 && a[next]-a[next-1] < apart) {
			free = false
		}
		if next > 0 && k-a[next-1] < 0.5 {
			free = false
		}
		if free {
			all = append(all, k)
			last = k
		}
	}
	sort.Float64s(all)
	return all
}

// spread puts a column onto more sample times, missing at the added ones.
func spread(from, column, to []float64) []float64 {
	wide := make([]float64, len(to))
	next := 0
	for i, s := range to {
		wide[i] = math.NaN()
		if next < len(from) && from[next] == s {
			wide[i] = column[next]
			next++
		}
	}
	return wide
}

// fill takes b's values at the times where a has no sample at all.
func fill(column, other, times, a []float64) {
	next := 0
	for i, s := range times {
		for next < len(a) && a[next] < s {
			next++
		}
		if next == len(a) || a[next] != s {
			column[i] = other[i]
		}
	}
}

// resampled gives a column at other times: the mean within half a second where
// it has several samples there, else a straight line across gaps of at most
// ride.Pause; an assist level holds.
func resampled(times, column, at []float64, c ride.Channel) []float64 {
	// Only samples that hold the channel count.
	var s, v []float64
	for i, x := range column {
		if !math.IsNaN(x) {
			s, v = append(s, times[i]), append(v, x)
		}
	}
	held := c == ride.AssistLevel || c == ride.BatteryCharge
	values := make([]float64, len(at))
	low, next := 0, 0
	for i, t := range at {
		for low < len(s) && s[low] < t-0.5 {
			low++
		}
		for next < len(s) && s[next] <= t {
			next++
		}
		sum, count := 0.0, 0
		for j := low; j < len(s) && s[j] < t+0.5; j++ {
			sum += v[j]
			count++
		}
		before, after := next-1, next
		switch {
		case count > 1 && !held && c != ride.Distance && c != ride.Latitude && c != ride.Longitude:
			values[i] = sum / float64(count)
		case before >= 0 && (held || s[before] == t) && t-s[before] <= ride.Pause:
			values[i] = v[before]
		case before >= 0 && after < len(s) && s[after]-s[before] <= ride.Pause:
			share := (t - s[before]) / (s[after] - s[before])
			if c == ride.Longitude && math.Abs(v[after]-v[before]) > 180 {
				share = 0 // across the antimeridian
			}
			values[i] = v[before] + share*(v[after]-v[before])
		case count == 1:
			values[i] = v[low]
		default:
			values[i] = math.NaN()
		}
	}
	return values
}

func (r *JoinReport) note(a, b *ride.Track) ride.Note {
	text := fmt.Sprintf("%s was laid on the clock of %s: %+.1f s", label(b), label(a), r.OffsetS)
	if r.DriftPPM != 0 {
		text += fmt.Sprintf(" and %+.0f ppm of drift", r.DriftPPM)
	}
	if r.Manual {
		return ride.Note{Text: text + ", as given by hand"}
	}
	return ride.Note{Text: fmt.Sprintf("%s; %s correlates by %.2f over %d s, elsewhere by %.2f at most", text, r.Channel, r.Correlation, r.OverlapS, r.RunnerUp)}
}

// match keeps of the report what shows the user how well the logs fit.
func (r *JoinReport) match(a, b *ride.Track) *ride.Match {
	return &ride.Match{
		First: label(a), Second: label(b), Channel: r.Channel, OffsetS: r.OffsetS, DriftPPM: r.DriftPPM, ByHand: r.Manual,
		Correlation: r.Correlation, RunnerUp: r.RunnerUp, A: r.A, B: r.B, Lags: r.Lags, Correlations: r.Correlations,
	}
}
