package gears

// Options of Infer. The zero value is the ordinary choice.
type Options struct {
	// IgnoreRecorded keeps the bike's own shift records out of the evidence.
	// They are still decoded and shown; whoever measures the inference against
	// them must set it.
	IgnoreRecorded bool

	// NamedRight is the share of the named seconds that shall be right. Zero
	// means DefaultNamedRight.
	NamedRight float64

	// CalibrationSeconds is how much of the ride calibration hears. Zero means
	// DefaultCalibrationSeconds. Less is faster and leaves wheel and noise less
	// well known.
	CalibrationSeconds int

	// Scratch is memory to work in, for whoever infers ride after ride: columns
	// of an Inference hold until the next. Nil means that each makes its own.
	Scratch *Scratch
}

// DefaultCalibrationSeconds hears most rides whole.
const DefaultCalibrationSeconds = 4000

// DefaultNamedRight leaves room for what the probabilities do not know: named
// seconds are right at least 99 times in 100 where the ride is logged well.
const DefaultNamedRight = 0.992
