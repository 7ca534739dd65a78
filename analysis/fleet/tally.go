package fleet

import (
	"math"
	"time"
)

// A Tally sums the rides of one bike, rider, group or span of time. The zero
// value is no rides at all.
type Tally struct {
	Key   string // the bike, rider, group or span
	Group string // the last by name, where the key is a bike or a rider

	Bikes, Riders int64 // different ones
	Rides, Days   int64
	First, Last   time.Time // of the starts
	MovingS       int64
	Km            float64

	Loss      Pairs   // energy lost to lugging, Wh, over km, a ride
	Battery   Pairs   // battery energy, Wh, over km, a ride
	PlanWh    float64 // what the plans would have saved
	DoubtWh   float64 // half the width of the loss's range by the profile, where computed
	DoubtOfWh float64 // the loss of the same rides
	Doubted   int64   // how many they are

	LuggingS, InBandS, SpinningS, LegsLuggingS int64
	PedallingS, NamedS                         int64

	WindingPeakC  float64 // highest, NaN where never told
	WindingLimitC float64 // lowest
	OverLimitS    int64
	OverRides     int64 // rides with any time over the limit

	Resistance  Moments // ratio to the profile's, a ride
	ResistanceS int64
	CapacityWh  float64 // mean
	Modelled    int64   // rides whose motor energy is modelled
	Made        int64
	Warnings    int64
}

// LuggingShare is the share of the loaded seconds spent lugging, NaN without any.
func (t *Tally) LuggingShare() float64 {
	return Share(float64(t.LuggingS), float64(t.LuggingS+t.InBandS+t.SpinningS))
}

// Share is a part of a whole, NaN without one.
func Share(part, whole float64) float64 {
	if !(whole > 0) {
		return math.NaN()
	}
	return part / whole
}

// A HabitTally sums one kind of habit over the rides of one group.
type HabitTally struct {
	Group         string
	Kind          string
	Bikes, Riders int64 // that have it
	Rides         int64 // with it
	Count         int64
	Opportunities int64
	CostWh        float64
}

// A CellTally sums the lugging in one cell of the map and one direction.
type CellTally struct {
	Cell, Direction int64
	Bikes, Riders   int64 // different ones
	Rides           int64
	Seconds         int64
	LossWh          float64
	Grade           float64 // mean of the stretches', NaN where unknown
	Lat, Lon        float64 // mean of the stretches'
}

// A Problem is a log that could not be used.
type Problem struct{ Path, Text string }
