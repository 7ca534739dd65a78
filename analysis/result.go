// Package analysis turns a ride and a bike profile into a Result: gear in use,
// drive state, books, plan, moments, habits, replays and their doubt.
package analysis

import (
	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/ledger"
	"cogledger/analysis/replay"
	"cogledger/analysis/road"
	"cogledger/analysis/shifts"
	"cogledger/analysis/trend"
	"cogledger/ingest/ride"
)

// A Result is everything the analysis knows about one ride. Per-second columns
// all run on the ride's clock.
type Result struct {
	Ride  *ride.Ride
	Bike  *bike.Profile
	Gears *gears.Inference
	Road  *road.Series
	Drive *drive.Series

	Bears    Bearing // what the log can bear; the rest is NaN or empty below
	Headline Headline
	Books    ledger.Books
	Classes  [drive.ClassCount]ClassTally // indexed by drive.Class
	Legs     [drive.LegsClassCount]int    // seconds, indexed by drive.LegsClass
	BothLug  int                          // seconds in which motor and legs both lug
	PerGear  []GearTally                  // one a gear, in the order of bike.Profile.Gears()

	LuggingLossW []float64 // W that the best gear would have saved, a value a second; zero where the motor does not lug

	Plan     shifts.Plan
	Trials   shifts.Trials   // every rule tried, in each half of the ride
	Found    shifts.Rule     // the rule that serves best, chosen on one half and valued on the other
	Moments  []shifts.Moment // in order of time
	Habits   []shifts.Habit
	Replays  []replay.Outcome
	Fittings []replay.Fitting   // other rings and cassettes, the bike as it is first; nil without replays
	Starts   []replay.LaunchRow // one a gear; nil without replays
	Rule     []shifts.BandRow   // cadences at which the motor leaves its band, by power

	Assumptions []Assumption
	Notes       []ride.Note // warnings of all stages, the reader's first
}

// A Headline is what a rider asks first. Figures whose inputs the log lacks
// have NaN values.
type Headline struct {
	Seconds, MovingSeconds int
	Distance               float64      // m
	Ascent                 float64      // m, NaN without altitude
	BatteryWh              doubt.Figure // out of the battery's terminals, net of recuperation
	RiderWh                doubt.Figure // at the crank
	WhPerKm                doubt.Figure
	LuggingLossWh          doubt.Figure // battery energy that the best gear would have saved in the lugging seconds
	RangeGainKm            doubt.Figure // that loss as range on a full battery
	PlanSavingWh           doubt.Figure // what the rideable plan would have saved
	WindingPeakC           doubt.Figure
	WindingLimitC          float64
	LuggingShare           float64 // share of the loaded seconds (lugging, in band, spinning out) spent lugging; NaN without any
	ClassedShare           float64 // share of the moving seconds with a class told, 0..1
}

// A ClassTally is the time and the battery energy spent in one class.
type ClassTally struct {
	Seconds int
	Wh      float64
}

// A GearTally is what happened in one gear.
type GearTally struct {
	Gear           bike.Gear
	Seconds        int
	Wh             float64 // out of the battery
	MeanMotorRPM   float64 // while the motor was loaded, NaN if it never was
	MeanCadence    float64 // rpm, while pedalling, NaN if never
	LuggingSeconds int
}

// An Assumption is a number the result rests on that the log did not give.
type Assumption struct {
	Name   string // dotted key of the profile, or the stage's own
	Value  float64
	Unit   string
	Source string // "profile", "default", "learnt from this ride", "tyre table", ...
}

// A Set is several rides of one bike taken together, in order of time.
type Set struct {
	Bike   *bike.Profile
	Rides  []*Result
	Bears  Bearing
	Total  Headline
	Habits []shifts.Habit // over all rides
	Found  shifts.Rule    // the rule that serves best, each ride valued with that of the others; a single ride's own
	Trend  trend.Trend    // from week to week; empty for a single ride
	Notes  []ride.Note    // what concerns the set, such as files that could not be read
}
