// Package ledger books every watt-hour of a ride in an account: on the battery
// side from the cells to the wheel, on the wheel side from motor and legs to
// the road.
package ledger

import (
	"math"

	"cogledger/analysis/doubt"
)

// An Account is one line of the books. Low and High are the ends of its 90 %
// interval; they equal Wh where none was worked out.
type Account struct {
	Name      string
	Wh        float64
	Low, High float64
	Basis     doubt.Basis
}

// Books are both sides of a ride's ledger. On each side the first line (on the
// wheel side the first two) is what came in, the others are where it went.
//
// A side of which hardly a second can be booked is empty.
//
// What came in and where it went are summed from separate columns, so a fault
// in any of them leaves a residual. Only the wheel side has an account for
// what the model cannot explain, and it is shown by name.
type Books struct {
	Battery              []Account
	Wheel                []Account
	BatteryResidual      float64 // Wh that came in and are in no account
	WheelResidual        float64
	UnbookedSeconds      int // moving seconds left out of the battery's side for lack of data
	UnbookedWheelSeconds int // moving seconds left out of the wheel's side
}

// Lines gives the watt-hours of other, the books of the same ride under another
// profile, in the order of b's accounts, battery side first. An account that
// other lacks is zero, on a side that other left empty NaN.
func (b Books) Lines(other Books) []float64 {
	lines := make([]float64, 0, len(b.Battery)+len(b.Wheel))
	for _, side := range [][2][]Account{{b.Battery, other.Battery}, {b.Wheel, other.Wheel}} {
		for _, line := range side[0] {
			wh := math.NaN()
			if len(side[1]) > 0 {
				wh = 0
			}
			for _, a := range side[1] {
				if a.Name == line.Name {
					wh = a.Wh
				}
			}
			lines = append(lines, wh)
		}
	}
	return lines
}

// Each calls f with every account, in the order of Lines.
func (b Books) Each(f func(i int, a *Account)) {
	for i := range b.Battery {
		f(i, &b.Battery[i])
	}
	for i := range b.Wheel {
		f(len(b.Battery)+i, &b.Wheel[i])
	}
}

// Tolerance is the share of what came in that the books may miss and still be
// called closed.
const Tolerance = 0.001

// Closed reports whether both sides close.
func (b Books) Closed() bool {
	return closed(b.Battery, 1, b.BatteryResidual) && closed(b.Wheel, 2, b.WheelResidual)
}

func closed(accounts []Account, in int, residual float64) bool {
	var came float64
	for _, a := range accounts[:min(in, len(accounts))] {
		came += a.Wh
	}
	return math.Abs(residual) <= Tolerance*came+1e-9
}

// Names of the accounts.
const (
	Store      = "out of the battery's cells"
	Heat       = "battery heat"
	Controller = "controller"
	Copper     = "motor winding"
	Drag       = "motor iron and bearings"
	Reduction  = "motor gears"
	Chain      = "chain, motor's share"
	Delivered  = "to the wheel"
	Charged    = "charged back"
	Untold     = "motor and gears, not told apart"

	FromMotor   = "motor at the wheel"
	FromLegs    = "legs at the crank"
	LegsChain   = "chain, legs' share"
	Air         = "air"
	Rolling     = "rolling"
	Bearings    = "wheel bearings"
	Climbing    = "climbing"
	Speed       = "speed"
	Brakes      = "brakes"
	Dragged     = "motor dragged or charging"
	Unexplained = "wind, surface and drafting, not explained"
)
