package ingest

import (
	"math"

	"cogledger/ingest/ride"
)

// A clocked log is a track in one piece with the ride that it makes.
type clocked struct {
	track *ride.Track
	ride  *ride.Ride
}

func clock1s(t *ride.Track) (clocked, error) {
	fullest := t
	for i, piece := range t.Split() {
		if i == 0 || len(piece.Time) > len(fullest.Time) {
			fullest = piece
		}
	}
	r, err := fullest.Ride()
	return clocked{fullest, r}, err
}

// column is a channel at exactly the whole seconds. The ride's own value of a
// second stands for the mean time of the samples in it, which is up to half a
// second off; a drifting clock moves it to and fro. For two logs that are to be
// aligned to a fraction of that it is brought to the second along the slope.
func (c clocked) column(channel ride.Channel) []float64 {
	column := c.ride.Column(channel)
	off := c.offsets(channel)
	exact := make([]float64, len(column))
	for k, v := range column {
		exact[k] = v
		if k == 0 || k+1 == len(column) || off[k] == 0 {
			continue
		}
		slope := (column[k+1] - column[k-1]) / (2 + off[k+1] - off[k-1])
		if !math.IsNaN(slope) {
			exact[k] = v - slope*off[k]
		}
	}
	return exact
}

// offsets are by how much the samples of each second lie behind it.
func (c clocked) offsets(channel ride.Channel) []float64 {
	derived := c.ride.Origin(channel) > ride.Satellite // from the last distance or position of the second
	values := c.track.Values[channel]
	off := make([]float64, c.ride.Len())
	count := make([]float64, c.ride.Len())
	for i, s := range c.track.Time {
		if s -= c.track.Time[0]; !derived && math.IsNaN(values[i]) {
			continue
		}
		k := int(s + 0.5)
		if k >= len(off) {
			break
		}
		if derived {
			off[k], count[k] = 0, 0
		}
		count[k]++
		off[k] += (s - float64(k) - off[k]) / count[k]
	}
	return off
}
