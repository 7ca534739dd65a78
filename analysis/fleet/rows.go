package fleet

import "time"

// RowsVersion counts the changes to what the rows of one and the same log
// hold, beyond those of the analysis. Rows of another version are to be made
// again.
const RowsVersion = 5

// Unknown is the month of a ride without an absolute time.
const Unknown = "unknown"

// A Ride is one reviewed ride as one row. Numbers that the log could not tell
// are NaN; Start is zero when the log has no absolute time.
type Ride struct {
	Content string // hash of the log's bytes, unpacked
	Part    int64  // which ride of a log that holds several, from 0
	Path    string // where the log was found
	Assignment
	Version string // of the analysis and the rows
	Start   time.Time
	Month   string // "2026-03" in UTC, or Unknown
	Made    bool   // made by simulation
	Basis   string // of the motor's energy: measured, derived or modelled

	Seconds, MovingS  int64
	DistanceM         float64
	AscentM           float64
	AirC              float64 // mean air temperature as logged
	BatteryWh         float64 // out of the battery's terminals
	RiderWh           float64
	LossWh            float64 // battery energy lost to lugging
	LossLow, LossHigh float64 // its 90 % range by the profile's tolerances, NaN where not computed
	PlanSavingWh      float64
	CopperWh          float64
	BatteryHeatWh     float64

	LuggingS, InBandS, SpinningS, RestingS, CoastingS, StoppedS, UnknownS int64
	LuggingWh                                                             float64
	LegsLuggingS, BothLuggingS                                            int64
	PedallingS, NamedS                                                    int64 // seconds with the crank turning, and of those with a gear told
	Shifts, ShiftsPlanned                                                 int64

	WindingPeakC, WindingLimitC float64
	OverLimitS                  int64

	ResistanceRatio float64 // of the battery: learnt from this ride over the profile's
	ResistanceSE    float64 // standard error of the ratio
	ResistanceS     int64   // seconds that it rests on
	CapacityWh      float64 // of the battery, as the profile has it
	Warnings        int64
}

// An Assignment tells whose ride a log is.
type Assignment struct {
	Bike    string
	Rider   string // empty where not known
	Group   string // depot, team or the like; empty where not known
	Profile string // hash of the profile's values
}

// A Habit is one kind of costly riding in one ride.
type Habit struct {
	Content       string
	Part          int64
	Kind          string
	Count         int64
	Opportunities int64
	CostWh        float64
}

// A Segment is a stretch of one ride spent lugging in one cell of the map and
// in one direction.
type Segment struct {
	Content      string
	Part         int64
	Number       int64 // in order of time, from 0
	FromS, ToS   int64 // seconds of the ride, [FromS, ToS)
	Cell         int64 // S2 cell of level CellLevel, as the bits of its id
	Direction    int64 // of travel: 0 north, 1 north-east, ... 7 north-west
	Lat, Lon     float64
	NearEnd      bool // within 500 m of the ride's start or end
	LossWh       float64
	Grade        float64
	MotorRPM     float64
	GearFrom     string // used
	GearTo       string // the best gear, as the plan has it; empty where none
	WindingC     float64
	LegsLuggingS int64
}

// A Log is what is known of one log file.
type Log struct {
	Path        string
	Fingerprint string // tells a changed file from an unchanged one without reading it
	Content     string // hash of its bytes; empty where it could not be read
	Serial      string // of the device, as the log says
	Start       time.Time
	Assignment
	Version string // of the analysis and the rows that it went through
	Problem string // why there are no rides of it; empty when there are
}

// An Outcome is what became of one log: rows, or a problem.
type Outcome struct {
	Log      Log
	Rides    []Ride
	Habits   []Habit
	Segments []Segment

	// Partly says why some rides of the log are not among its rows, empty where
	// all are. It is told, and not stored.
	Partly string
	// Known means that the rows of the same content are stored already and stay
	// as they are: only the log is new.
	Known bool
	// TakeOver makes the rides this log's, also where another log of the same
	// content comes first by name.
	TakeOver bool
}

// Yields reports whether the rides that a store holds of the outcome's content
// stay as they are: a newer version made them, or they belong to a log that
// comes first by name. Path and version are those of the rides.
func (o *Outcome) Yields(path, version string) bool {
	return Newer(version, o.Log.Version) || !o.TakeOver && path < o.Log.Path && version == o.Log.Version
}
