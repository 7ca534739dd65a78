package shifts

import "cogledger/analysis/doubt"

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
	RiddenWh         float64      // out of the battery in the stretch, as ridden
	Saving           doubt.Figure // Wh
	WindingDropK     float64      // how much cooler the winding would have been at the end of the stretch
	Advised          bool         // worth telling; false: kept for the record only
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
