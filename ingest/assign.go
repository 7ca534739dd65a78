package ingest

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"cogledger/ingest/ride"
)

// An Assignment tells which second device's log belongs to which ride.
type Assignment struct {
	Of      [][]int // by ride, indices into the second logs, in the order in which they are to be joined
	Refused []error // by second log, why it belongs to no ride; nil where it does
}

// Assign finds the rides of second devices' logs. Every pair is tried, and the
// pairs are chosen together, one log to a ride, so that the sum of their matches
// is the greatest: a log that comes first takes no ride from one that fits better.
// A match is its correlation, and more where the two clocks agree. Logs that are
// left over may join a ride that has one already, if they add a channel.
func Assign(rides, seconds []*ride.Track) Assignment {
	a := Assignment{Of: make([][]int, len(rides)), Refused: make([]error, len(seconds))}
	worth := make([][]float64, len(seconds)) // by second log and ride; 0 where they do not match
	for k, second := range seconds {
		worth[k] = make([]float64, len(rides))
		nearest := math.Inf(-1)
		for i, first := range rides {
			w, correlation, err := match(first, second, len(rides) == 1 && len(seconds) == 1)
			worth[k][i] = w
			if err != nil && (a.Refused[k] == nil || correlation > nearest) {
				a.Refused[k], nearest = err, correlation
			}
		}
	}
	left := make([]int, len(seconds))
	for k := range left {
		left[k] = k
	}
	for len(left) > 0 {
		table := make([][]float64, len(left))
		for row, k := range left {
			table[row] = slices.Clone(worth[k])
			for i, taken := range a.Of {
				if len(taken) > 0 && !addsTo(rides[i], seconds, taken, seconds[k]) {
					table[row][i] = 0
				}
			}
		}
		chosen := greatestSum(table)
		var still []int
		for row, k := range left {
			if i := chosen[row]; i >= 0 {
				a.Of[i], a.Refused[k] = append(a.Of[i], k), nil
			} else {
				still = append(still, k)
			}
		}
		if len(still) == len(left) {
			break
		}
		left = still
	}
	for _, k := range left {
		if a.Refused[k] == nil { // it matches, but another matches better
			a.Refused[k] = errors.New("the rides that it matches have a log with the same channels that matches better")
		}
	}
	return a
}

// Clocks of two devices on one ride differ by minutes, or by a time zone; farther
// apart they are of different rides, unless one of them was never set. Common
// practice.
const (
	sameClock   = 15 * time.Minute
	mostZone    = 14 * time.Hour
	neverSet    = 400 * 24 * time.Hour
	clockAgrees = 0.3 // of correlation, what an agreeing clock is worth
)

// surelyAligned in s is the standard error of the offset above which a match that
// no clock confirms may be of another ride over the same road: speeds of two rides
// correlate there by up to 0.98, but not to the tenth of a second. Two logs of one
// simulated ride lie under 0.001 with wheel sensors on both.
const surelyAligned = 0.06

// match is how well two logs match, 0 and an error where they do not.
//
// alone says that the user named this pair and no other.
func match(first, second *ride.Track, alone bool) (worth, correlation float64, err error) {
	apart, known := clocksApart(first, second)
	if known && apart > mostZone && apart < neverSet {
		return 0, math.Inf(-1), fmt.Errorf("%s and %s: their clocks are %.0f h apart; give the offset by hand if they are of one ride all the same", label(first), label(second), apart.Hours())
	}
	_, report, err := Join(first, second, JoinOptions{})
	if err != nil {
		return 0, report.Correlation, err
	}
	if confirmed := known && apart <= mostZone; !confirmed && !alone && !(report.OffsetError <= surelyAligned) {
		return 0, report.Correlation, fmt.Errorf("%s and %s: %w: no clock confirms that they are of one ride, and speed fits only to %.2f s; name them in a call of their own", label(first), label(second), ErrUnclear, report.OffsetError)
	}
	worth = report.Correlation
	if known && apart < sameClock {
		worth += clockAgrees
	}
	return worth, report.Correlation, nil
}

// clocksApart is how much time lies between two logs by their own clocks, 0 where
// they overlap; not known where one has no absolute time.
func clocksApart(first, second *ride.Track) (time.Duration, bool) {
	if first.Epoch.IsZero() || second.Epoch.IsZero() || len(first.Time) == 0 || len(second.Time) == 0 {
		return 0, false
	}
	span := func(t *ride.Track) (from, to time.Time) {
		at := func(s float64) time.Time { return t.Epoch.Add(time.Duration(s * float64(time.Second))) }
		return at(slices.Min(t.Time)), at(slices.Max(t.Time))
	}
	from1, to1 := span(first)
	from2, to2 := span(second)
	return max(0, from2.Sub(to1), from1.Sub(to2)), true
}

// addsTo reports whether a log holds a channel that the ride and the logs joined to
// it lack.
func addsTo(first *ride.Track, seconds []*ride.Track, taken []int, more *ride.Track) bool {
	for c := range ride.ChannelCount {
		has := first.Has(c)
		for _, k := range taken {
			has = has || seconds[k].Has(c)
		}
		if more.Has(c) && !has {
			return true
		}
	}
	return false
}

// greatestSum picks at most one column a row and one row a column of a table of
// worths, so that their sum is the greatest; -1 where a row gets none. It is the
// Hungarian method by shortest augmenting paths (Kuhn 1955, Naval Research
// Logistics 2:83) on costs, with a column of its own for each row that gets none.
func greatestSum(table [][]float64) []int {
	rows := len(table)
	if rows == 0 {
		return nil
	}
	columns := len(table[0]) + rows
	cost := func(row, column int) float64 {
		if column < len(table[0]) {
			return -table[row][column]
		}
		return 0
	}
	rowPrice, columnPrice := make([]float64, rows+1), make([]float64, columns+1)
	owner, from := make([]int, columns+1), make([]int, columns+1) // rows and columns count from 1
	for row := 1; row <= rows; row++ {
		owner[0] = row
		least, done := make([]float64, columns+1), make([]bool, columns+1)
		for c := range least {
			least[c] = math.Inf(1)
		}
		at := 0
		for owner[at] != 0 {
			done[at] = true
			r, step, next := owner[at], math.Inf(1), 0
			for c := 1; c <= columns; c++ {
				if done[c] {
					continue
				}
				if reduced := cost(r-1, c-1) - rowPrice[r] - columnPrice[c]; reduced < least[c] {
					least[c], from[c] = reduced, at
				}
				if least[c] < step {
					step, next = least[c], c
				}
			}
			for c := range done {
				if done[c] {
					rowPrice[owner[c]] += step
					columnPrice[c] -= step
				} else {
					least[c] -= step
				}
			}
			at = next
		}
		for at != 0 {
			owner[at] = owner[from[at]]
			at = from[at]
		}
	}
	chosen := make([]int, rows)
	for row := range chosen {
		chosen[row] = -1
	}
	for c := 1; c <= len(table[0]); c++ {
		if row := owner[c]; row != 0 && table[row-1][c-1] > 0 {
			chosen[row-1] = c - 1
		}
	}
	return chosen
}
