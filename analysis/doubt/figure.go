// Package doubt says how sure a number is: where it comes from, and between
// which bounds it lies in nine cases out of ten.
package doubt

// A Basis tells how a number came about. The weakest part decides.
type Basis uint8

const (
	Measured Basis = iota // read from a sensor, summed
	Derived               // computed from measured channels and the bike profile
	Modelled              // computed where the log has no channel for it
)

func (b Basis) String() string { return [...]string{"measured", "derived", "modelled"}[b] }

// Weaker returns the basis of a number made from both.
func (b Basis) Weaker(o Basis) Basis { return max(b, o) }

// A Figure is a number with its 90 % interval. Low and High equal Value where
// no doubt was computed.
type Figure struct {
	Value, Low, High float64
	Basis            Basis
}

// HoldsZero reports whether the interval does not tell the figure from nothing.
func (f Figure) HoldsZero() bool { return f.Low <= 0 && f.High >= 0 }
