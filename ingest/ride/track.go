package ride

import "time"

// A Track is a log as it was written: samples at the log's own times, before
// they are put on the one-second clock. Readers fill it; Track.Ride makes the
// Ride.
type Track struct {
	Name    string
	Epoch   time.Time // the moment that Time counts from, UTC; zero when the log has no absolute time
	Sources []Source
	Shifts  []RecordedShift // Second counts from Epoch
	Notes   []Note

	Time    []float64               // s since Epoch, strictly increasing after cleaning
	Values  [ChannelCount][]float64 // nil, or as long as Time; NaN where the sample lacks the channel
	Origins [ChannelCount]Origin    // where each channel comes from; Absent is read as Device
}
