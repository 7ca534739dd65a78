// Package shifts finds the gears that would have served better, and what the
// rider can learn from them.
package shifts

import "cogledger/analysis/doubt"

// A Plan is the best rideable choice of gears for the ride.
type Plan struct {
	Gear         []int     // index into bike.Profile.Gears(), Unknown (-1) where nothing can be planned
	Terminal     []float64 // W out of the battery with the planned gear, NaN where not planned
	Shifts       int
	ShiftsRidden int
	PriceJ       float64      // of a shift, as raised to meet the limit a kilometre
	Saving       doubt.Figure // Wh out of the battery over the whole ride
}

// A Moment is a stretch in which another gear would have served better.
type Moment struct {
	From, To         int     // seconds, [From, To)
	StartM           float64 // m from the start
	Lat, Lon         float64 // NaN where the log has no position
	Grade            float64 // mean, NaN where unknown
	GearFrom, GearTo int     // index into Gears
	MotorRPMFrom     float64 // mean motor speed in the gear used and in the better one
	MotorRPMTo       float64
	CadenceFrom      float64 // rpm
	CadenceTo        float64
	Saving           doubt.Figure // Wh
	WindingDropK     float64      // how much cooler the winding would have been at the end of the stretch
	Advised          bool         // false: the interval holds zero, kept for the record only
	Place            string       // words to find it by: "km 3.2, climb of 5 %"
}

// A Habit groups moments of one kind.
type Habit struct {
	Kind          string // stable key: "tall-gear start", "late down-shift", ...
	Count         int
	Opportunities int          // how often it could have happened; 0 where that makes no sense
	Cost          doubt.Figure // Wh
	Advice        string       // one sentence in plain words
	Carried       bool         // the data can carry the advice
	Seconds       []int        // when it happened
}
