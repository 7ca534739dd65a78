package ride

import (
	"fmt"
	"math"
)

const (
	fastest    = 40.0 // m/s: no ride is faster
	fixError   = 30.0 // m that two good fixes may be wrong against one another
	briefStray = 10   // s: a stretch of fixes no longer than this may be strays

	longestDegree = 111_700.0 // m: none on the earth is longer, at a pole or along the equator
)

// filterPositions drops fixes that no ride can reach.
//
// Fixes are parted wherever the step to the next one is too long for the time
// between them. A short stretch that cannot be reached from the stretch before
// it is dropped as stray; so is a short one at the start, which cannot reach
// the next. A long stretch is believed: the receiver found its place.
func (r *Ride) filterPositions(file string) {
	lat, lon := r.columns[Latitude], r.columns[Longitude]
	if lat == nil || lon == nil {
		r.forget(Latitude)
		r.forget(Longitude)
		return
	}
	nowhere := r.pairPositions()
	stretches := r.stretches()
	strays, first := 0, 0
	last := -1 // the last second of the stretch kept before
	for _, s := range stretches {
		brief := s.to-s.from < briefStray && len(stretches) > 1
		if brief && (last < 0 || !r.reachable(last, s.from)) {
			for k := s.from; k <= s.to; k++ {
				if r.marks[Latitude][k] == Missing {
					continue
				}
				if strays == 0 {
					first = k
				}
				strays++
				r.drop(Latitude, k)
				r.drop(Longitude, k)
			}
			continue
		}
		last = s.to
	}
	if nowhere > 0 {
		r.Notes = append(r.Notes, Note{File: file, Text: fmt.Sprintf("%d positions are half missing or stand at latitude 0, longitude 0, and were dropped", nowhere)})
	}
	if strays > 0 {
		r.Notes = append(r.Notes, Note{File: file, Place: fmt.Sprintf("second %d", first), Text: fmt.Sprintf("%d positions jump further than a bike can go, and were dropped", strays)})
	}
}

// A stretch is a run of fixes, each in reach of the one before.
type stretch struct{ from, to int }

func (r *Ride) stretches() []stretch {
	var found []stretch
	last := -1
	for k, m := range r.marks[Latitude] {
		if m == Missing {
			continue
		}
		if last >= 0 && r.reachable(last, k) {
			found[len(found)-1].to = k
		} else {
			found = append(found, stretch{k, k})
		}
		last = k
	}
	return found
}

// reachable reports whether a bike can go from the fix at second a to that at
// b. Over a short time the logged speed narrows what it can.
func (r *Ride) reachable(a, b int) bool {
	lat, lon := r.columns[Latitude], r.columns[Longitude]
	seconds := float64(b - a)
	speed := fastest
	if v := max(r.At(Speed, a), r.At(Speed, b)); b-a <= Pause && !math.IsNaN(v) {
		speed = min(speed, max(3*v, 15)) // a dead wheel sensor says 0 while the bike moves
	}
	reach := speed*seconds + fixError
	if (math.Abs(lat[b]-lat[a])+math.Abs(lon[b]-lon[a]))*longestDegree <= reach {
		return true
	}
	return GroundDistance(lat[a], lon[a], lat[b], lon[b]) <= reach
}

// pairPositions drops fixes with one coordinate only, and those at 0, 0, which
// a receiver without a fix writes.
func (r *Ride) pairPositions() (dropped int) {
	lat, lon := r.columns[Latitude], r.columns[Longitude]
	for k := range lat {
		known, paired := r.marks[Latitude][k] != Missing, r.marks[Longitude][k] != Missing
		if known != paired || known && lat[k] == 0 && lon[k] == 0 {
			dropped++
			r.drop(Latitude, k)
			r.drop(Longitude, k)
		}
	}
	return dropped
}

func (r *Ride) drop(c Channel, k int) {
	r.columns[c][k], r.marks[c][k] = math.NaN(), Missing
}

func (r *Ride) forget(c Channel) {
	r.columns[c], r.marks[c], r.origins[c] = nil, nil, Absent
}
