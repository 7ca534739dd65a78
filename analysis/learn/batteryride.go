package learn

import (
	"math"

	"cogledger/analysis/bike"
	"cogledger/ingest/ride"
)

// A BatteryReading is what one ride tells of a battery.
type BatteryReading struct {
	Ohm     float64 // direct current, quick and slow part together
	Sigma   float64 // standard error by the ride's own scatter; the meters' is not in it
	Seconds int     // with volts and amperes
}

// BatteryOf learns a battery's resistance from one ride, as Battery does from
// many. Charge and cold move it from ride to ride by more than Sigma.
func BatteryOf(r *ride.Ride, p *bike.Profile) (BatteryReading, error) {
	f, err := fitBattery(r, p)
	if err != nil {
		return BatteryReading{}, err
	}
	volts, amps := r.Column(ride.BatteryVolts), r.Column(ride.BatteryAmps)
	told := 0
	for i := range volts {
		if !math.IsNaN(volts[i] + amps[i]) {
			told++
		}
	}
	return BatteryReading{f.ohm, f.sigma, told}, nil
}
