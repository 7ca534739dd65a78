package gears

// Options of Infer. The zero value is the ordinary choice.
type Options struct {
	// IgnoreRecorded keeps the bike's own shift records out of the evidence.
	// They are still decoded and shown; whoever measures the inference against
	// them must set it.
	IgnoreRecorded bool

	// Threshold is the probability below which a second's gear is Unknown.
	// Zero means DefaultThreshold.
	Threshold float64
}

// DefaultThreshold is the probability below which a gear is not named. It is
// read off the reliability curve of rides with a known gear: from here on up,
// named seconds are right more than 99 times in 100.
const DefaultThreshold = 0.8
