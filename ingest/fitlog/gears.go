package fitlog

import "cogledger/ingest/ride"

// Events of the protocol that report a gear change.
const (
	frontGearEvent = 42
	rearGearEvent  = 43
)

// Limits of teeth and positions that a bike can have; devices write 0 and 255
// where they know nothing, and what the rider typed in where they do.
const (
	fewestRingTeeth, mostRingTeeth     = 18, 75
	fewestSprocketTeeth, mostSprockets = 8, 14
	mostSprocketTeeth, mostRings       = 60, 4
)

// GearChange decodes the data of a front or rear gear change event: four bytes,
// lowest first, of rear position, rear teeth, front position and front teeth.
// Positions count from the innermost, that is from the largest sprocket and
// from the smallest ring. What cannot be is 0. Second is left 0.
func GearChange(data uint32) ride.RecordedShift {
	between := func(shift, low, high int) int {
		if v := int(data >> shift & 0xff); v >= low && v <= high {
			return v
		}
		return 0
	}
	return ride.RecordedShift{
		RearNumber:  between(0, 1, mostSprockets),
		RearTeeth:   between(8, fewestSprocketTeeth, mostSprocketTeeth),
		FrontNumber: between(16, 1, mostRings),
		FrontTeeth:  between(24, fewestRingTeeth, mostRingTeeth),
	}
}

// gearData is the inverse of GearChange.
func gearData(s ride.RecordedShift) uint32 {
	return uint32(s.RearNumber) | uint32(s.RearTeeth)<<8 | uint32(s.FrontNumber)<<16 | uint32(s.FrontTeeth)<<24
}
