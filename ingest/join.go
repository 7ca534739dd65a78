package ingest

import (
	"errors"
	"fmt"
	"math"

	"cogledger/ingest/ride"
)

// JoinOptions tell how to join two logs. The zero value searches every offset
// by itself.
type JoinOptions struct {
	Manual   bool    // take OffsetS and DriftPPM as given instead of searching
	OffsetS  float64 // s; as JoinReport has it
	DriftPPM float64
}

// A JoinReport tells how two logs were laid on one another, with what is
// needed to draw the match.
//
// A moment at second s of log B, counted from B's first sample, is second
// s + OffsetS + DriftPPM·1e-6·s of log A, counted from A's first sample. The
// offset holds what the two speed sensors lag behind one another, which no
// comparison of the two can tell from a difference of clocks.
type JoinReport struct {
	Manual       bool
	Channel      ride.Channel // that was compared
	OffsetS      float64      // s, at B's first sample
	OffsetError  float64      // s, standard error of the offset where it is worst in the overlap; NaN if Manual
	DriftPPM     float64      // how much slower B's clock runs than A's; drawn towards 0 where the logs tell little of it
	Correlation  float64      // of the aligned channel; NaN if it cannot be compared
	RunnerUp     float64      // correlation at the best offset elsewhere
	OverlapS     int          // seconds that both logs hold
	A, B         []float64    // the channel of both on A's clock from second Start on, NaN where missing
	Start        int          // of A and B, in seconds of log A; negative where B began before A
	Lags         []float64    // s, offsets around the match
	Correlations []float64    // at Lags
}

// ErrUnclear means that the two logs do not match clearly.
var ErrUnclear = errors.New("the two logs do not match clearly")

// Thresholds of a clear match. They were set on recorded rides: of two logs of
// one ride the correlation is above 0.8; of unrelated rides it reaches 0.45
// over half an hour and 0.6 over ten minutes.
const (
	leastCorrelation = 0.6
	leastLead        = 1.4 // of the peak over its runner-up
	leastOverlapS    = 180
	mostOffsetError  = 0.5 // s
	mostDriftPPM     = 1000
	mostManualPPM    = 10_000 // of a drift given by hand
)

// Join lays log b on the clock of log a and returns one track with the
// channels of both. The clocks' offset and drift are found by
// cross-correlation of speed, else of cadence, and then by least squares.
//
// Where both hold a channel, a's is kept, except a speed that a's satellite
// receiver or its distance gave while b counted it at the wheel. Where only one
// of them runs, the joined track holds that one. When the match is not clear,
// the error wraps ErrUnclear and the report tells how far it came; with
// JoinOptions.Manual the user decides.
func Join(a, b *ride.Track, o JoinOptions) (*ride.Track, JoinReport, error) {
	ca, err := clock1s(a)
	if err != nil {
		return nil, JoinReport{}, fmt.Errorf("join: %w", err)
	}
	cb, err := clock1s(b)
	if err != nil {
		return nil, JoinReport{}, fmt.Errorf("join: %w", err)
	}
	a, b = ca.track, cb.track
	if o.Manual && !(math.Abs(o.OffsetS) <= ride.LongestRide && math.Abs(o.DriftPPM) <= mostManualPPM) {
		return nil, JoinReport{}, fmt.Errorf("%s and %s: an offset of %g s with a drift of %g ppm cannot be: give seconds from the start of the ride to that of the second log, within %d h, and at most %d ppm", label(a), label(b), o.OffsetS, o.DriftPPM, ride.LongestRide/3600, mostManualPPM)
	}
	report := JoinReport{Manual: o.Manual, OffsetS: o.OffsetS, DriftPPM: o.DriftPPM, OffsetError: math.NaN(), Correlation: math.NaN(), RunnerUp: math.NaN()}
	channels := []ride.Channel{ride.Speed, ride.CadenceRPM}
	if o.Manual {
		for _, c := range channels {
			if ca.ride.Has(c) && cb.ride.Has(c) {
				report.Channel = c
				report.lay(ca.column(c), cb.column(c))
				break
			}
		}
		joined := merge(a, b, report)
		if report.Correlation < leastCorrelation { // false for NaN
			joined.Notes = append(joined.Notes, report.caution(ca, cb))
		}
		return joined, report, nil
	}
	common := false
	for _, c := range channels {
		if !ca.ride.Has(c) || !cb.ride.Has(c) {
			continue
		}
		common = true
		found := JoinReport{Channel: c, OffsetError: math.NaN()}
		if found.search(ca.column(c), cb.column(c)); found.clear() == nil {
			return merge(a, b, found), found, nil
		} else if !(report.Correlation >= found.Correlation) {
			report = found
		}
	}
	if !common {
		return nil, report, fmt.Errorf("%s and %s: %w: they have neither speed nor cadence in common; give the offset by hand", label(a), label(b), ErrUnclear)
	}
	return nil, report, fmt.Errorf("%s and %s: %w: %w; check that they are of one ride, or give the offset by hand", label(a), label(b), ErrUnclear, report.clear())
}

// caution warns of an offset given by hand at which the logs do not match, with
// the one at which they do.
func (r *JoinReport) caution(a, b clocked) ride.Note {
	n := ride.Note{
		Text: fmt.Sprintf("at the offset given by hand, %+.1f s, %s of the two logs hardly agrees (correlation %.2f): what is joined may be of other seconds", r.OffsetS, r.Channel, r.Correlation),
		Cure: "check the offset, or leave it out and let it be found",
	}
	better := JoinReport{Channel: r.Channel, OffsetError: math.NaN()}
	if better.search(a.column(r.Channel), b.column(r.Channel)); better.clear() == nil {
		n.Cure = fmt.Sprintf("the logs match at %+.1f s (correlation %.2f): give --join-offset=%.1f, or leave it out", better.OffsetS, better.Correlation, better.OffsetS)
	}
	return n
}

// clear is nil if the match is, else why it is not.
func (r *JoinReport) clear() error {
	switch {
	case r.OverlapS < leastOverlapS:
		return fmt.Errorf("both run together for %d s, %d s are needed", r.OverlapS, leastOverlapS)
	case !(r.Correlation >= r.needed()):
		return fmt.Errorf("%s correlates by %.2f at best, %.2f is needed over %d s", r.Channel, r.Correlation, r.needed(), r.OverlapS)
	case r.Correlation < leastLead*r.RunnerUp:
		return fmt.Errorf("%s correlates by %.2f at %.0f s but also by %.2f elsewhere, as on laps", r.Channel, r.Correlation, r.OffsetS, r.RunnerUp)
	case !(r.OffsetError <= mostOffsetError):
		return fmt.Errorf("the offset is uncertain by %.1f s", r.OffsetError)
	case math.Abs(r.DriftPPM) > mostDriftPPM:
		return fmt.Errorf("the clocks would drift by %.0f ppm, which no clock does", r.DriftPPM)
	}
	return nil
}

// needed is the correlation that chance does not reach over the overlap.
func (r *JoinReport) needed() float64 {
	return max(leastCorrelation, 0.45+6/math.Sqrt(float64(r.OverlapS)))
}

// search finds offset and drift.
func (r *JoinReport) search(a, b []float64) {
	peak, ok := correlate(detrended(a), detrended(b))
	if !ok {
		return
	}
	r.OffsetS, r.Correlation, r.RunnerUp = peak.lag, peak.correlation, peak.runnerUp
	r.Lags, r.Correlations = peak.lags, peak.correlations
	fit := alignment{offset: peak.lag}
	fit.refine(a, b)
	r.OffsetS, r.DriftPPM, r.OffsetError = fit.offset, fit.drift*1e6, fit.worst
	r.lay(a, b)
}

// lay fills the report's aligned columns for its offset and drift.
func (r *JoinReport) lay(a, b []float64) {
	last := r.toA(float64(len(b) - 1))
	start := min(0, int(math.Floor(r.OffsetS)))
	end := max(len(a)-1, int(math.Ceil(last)))
	if end-start > 2*ride.LongestRide { // a manual offset far off
		start, end = 0, len(a)-1
	}
	n := end - start + 1
	r.Start, r.A, r.B = start, make([]float64, n), make([]float64, n)
	r.OverlapS = 0
	var p pairs
	for i := range n {
		k := start + i
		r.A[i], r.B[i] = math.NaN(), math.NaN()
		if k >= 0 && k < len(a) {
			r.A[i] = a[k]
		}
		r.B[i] = between(b, r.toB(float64(k)))
		if !math.IsNaN(r.A[i]) && !math.IsNaN(r.B[i]) {
			r.OverlapS++
			p.add(r.A[i], r.B[i])
		}
	}
	if r.Manual {
		r.Correlation = p.correlation()
	}
}

// toA is a second of log B on the clock of log A, toB the inverse.
func (r *JoinReport) toA(s float64) float64 { return s*(1+r.DriftPPM*1e-6) + r.OffsetS }
func (r *JoinReport) toB(s float64) float64 { return (s - r.OffsetS) / (1 + r.DriftPPM*1e-6) }

// between is a column's value at a fraction of a second.
func between(column []float64, at float64) float64 {
	k := int(math.Floor(at))
	if k < 0 || k >= len(column) {
		return math.NaN()
	}
	fraction := at - float64(k)
	if fraction == 0 {
		return column[k]
	}
	if k+1 == len(column) {
		return math.NaN()
	}
	return column[k] + fraction*(column[k+1]-column[k])
}

func label(t *ride.Track) string {
	if len(t.Sources) > 0 && t.Sources[0].File != "" {
		return t.Sources[0].File
	}
	return t.Name
}
