// Package ledger books every watt-hour of a ride in an account: on the battery
// side from the cells to the wheel, on the wheel side from motor and legs to
// the road.
package ledger

import "cogledger/analysis/doubt"

// An Account is one line of the books.
type Account struct {
	Name  string
	Wh    float64
	Basis doubt.Basis
}

// Books are both sides of a ride's ledger. On each side the first line (on the
// wheel side the first two) is what came in, the others are where it went.
type Books struct {
	Battery         []Account
	Wheel           []Account
	BatteryResidual float64 // Wh that came in and are in no account
	WheelResidual   float64
	UnbookedSeconds int // moving seconds left out for lack of data
}
