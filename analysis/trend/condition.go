package trend

// Seconds are compared with seconds of the same condition. The bounds are
// common practice: fine enough that climbs meet climbs, coarse enough that a
// week of rides fills most of them.
const (
	grades     = 6 // unknown, falling, flat, rising, climb, steep
	powers     = 4 // the motor's share at the wheel: unknown, light, middling, hard
	Conditions = 1 + grades*powers

	standing     = 0.5 // m/s, below which the bike stands
	startSeconds = 8   // how long a start lasts after the stand
)

// condition sorts a second by grade (rise over run), motor power at the wheel
// (W) and the seconds since the bike stood.
func condition(grade, delivered float64, sinceStand int) int {
	if sinceStand < startSeconds {
		return 0
	}
	return 1 + gradeBin(grade)*powers + powerBin(delivered)
}

func gradeBin(grade float64) int {
	switch {
	case grade >= 0.06:
		return 5
	case grade >= 0.03:
		return 4
	case grade >= 0.01:
		return 3
	case grade >= -0.01:
		return 2
	case grade < -0.01:
		return 1
	}
	return 0 // NaN
}

func powerBin(delivered float64) int {
	switch {
	case delivered >= 250:
		return 3
	case delivered >= 100:
		return 2
	case delivered < 100:
		return 1
	}
	return 0 // NaN
}
