package shifts

import (
	"cogledger/analysis/road"
	"cogledger/ingest/ride"
)

// A Start is a stretch in which the bike gathers speed from a stand.
type Start struct {
	From, To int     // seconds [From, To): from the first that moves to reaching StartedMPS, at most startS later
	To15     float64 // s from a stand to StartedMPS, NaN when not reached
}

// StartedMPS ends a start: 15 km/h.
const StartedMPS = 15 / 3.6

const (
	startS   = 20 // s, the longest start looked at
	stoodS   = 2  // s of standing before a start
	walkMPS  = 2  // m/s, a start that never gets faster is pushing the bike
	mostTo15 = 60
)

// Starts finds the starts from a stand.
func Starts(r *ride.Ride, rd *road.Series) []Start {
	var starts []Start
	stood := stoodS // a ride begins at a stand
	for s := 0; s < r.Len(); s++ {
		if r.Paused(s) || !rd.Moving[s] {
			stood++
			continue
		}
		if stood >= stoodS {
			if start, ok := startAt(r, rd, s); ok {
				starts = append(starts, start)
			}
		}
		stood = 0
	}
	return starts
}

func startAt(r *ride.Ride, rd *road.Series, from int) (Start, bool) {
	if rd.Speed[from] > walkMPS { // the log begins on the move
		return Start{}, false
	}
	x := Start{From: from, To: from, To15: nan}
	fastest := 0.0
	for s := from; s < min(r.Len(), from+mostTo15) && !r.Paused(s) && rd.Moving[s]; s++ {
		v := rd.Speed[s]
		if s < from+startS {
			x.To = s + 1
			fastest = max(fastest, v)
		}
		if v >= StartedMPS {
			x.To15 = float64(s-from) + 1 - overshoot(rd.Speed, s)
			break
		}
	}
	return x, fastest > walkMPS
}

// overshoot is the part of second s that lies beyond reaching StartedMPS, on a
// straight line from the second before.
func overshoot(speed []float64, s int) float64 {
	if s == 0 || !(speed[s] > speed[s-1]) {
		return 0
	}
	return max(0, min(1, (speed[s]-StartedMPS)/(speed[s]-speed[s-1])))
}
