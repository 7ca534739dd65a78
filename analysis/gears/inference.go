package gears

import "cogledger/ingest/ride"

// Unknown is the gear index of a second whose gear cannot be told.
const Unknown = -1

// An Inference is the gear in use, second by second, with its certainty.
type Inference struct {
	Index       []int     // index into bike.Profile.Gears(), Unknown below Threshold
	Best        []int     // the likeliest gear, however unlikely; Unknown where there is no evidence at all
	Probability []float64 // of Best, 0..1
	Threshold   float64   // of Probability from which on the gear is named
	Coupled     []float64 // probability that the crank drives the wheel in this second

	Circumference         float64 // m, calibrated by the ride
	CircumferenceLow      float64 // 90 % interval
	CircumferenceHigh     float64
	CircumferenceFromRide bool     // false: the ride could not calibrate, the tyre table's value is kept
	LagSeconds            float64  // by which logged speed trails cadence; negative where it leads
	Spread                float64  // relative spread of development within a gear
	PedallingSeconds      int      // cadence >= 25 rpm and speed > 0.8 m/s
	NamedSeconds          int      // of those, with a gear named
	Recorded              []int    // gear by the bike's own shift records, with the inferred ring where they have none; Unknown where none; nil when the log has none
	RecordedUsed          bool     // the records agreed and served as evidence
	RecordedAgreement     float64  // share of named pedalling seconds that the records agree with, before they served; 0 without any
	RecordedLagSeconds    int      // by which the log shows a change after its record
	Mismatch              Mismatch // of the profile with what was ridden
	Notes                 []ride.Note
}

// NamedShare is the share of pedalling seconds with a gear named, 0..1; 0 when
// the ride has none.
func (f *Inference) NamedShare() float64 {
	if f.PedallingSeconds == 0 {
		return 0
	}
	return float64(f.NamedSeconds) / float64(f.PedallingSeconds)
}
