package shifts

import (
	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
)

// A BandRow is the rule "slow legs: shift down, fast legs: shift up" in the
// numbers of one bike at one power: below LowRPM the motor lugs, above HighRPM
// it spins out. In a mid drive these are cadences; a hub motor knows only the
// bike's speed, and its row gives that.
type BandRow struct {
	ShaftW                         float64 // out of the motor
	Efficiency                     float64 // at the best speed
	MotorLow, MotorBest, MotorHigh float64 // rpm
	LowRPM, BestRPM, HighRPM       float64 // cadence, NaN for a hub motor
	LowSpeed, BestSpeed, HighSpeed float64 // m/s, NaN for a mid drive
}

// BandTable gives a row for each output power in W.
func BandTable(p *bike.Profile, powers []float64) []BandRow {
	unit := drive.NewUnit(p)
	rows := make([]BandRow, len(powers))
	for i, power := range powers {
		b := unit.Band(power)
		row := BandRow{
			ShaftW: power, Efficiency: b.Efficiency,
			MotorLow: b.Low * rpmPerRadS, MotorBest: b.Best * rpmPerRadS, MotorHigh: b.High * rpmPerRadS,
			LowRPM: nan, BestRPM: nan, HighRPM: nan, LowSpeed: nan, BestSpeed: nan, HighSpeed: nan,
		}
		if unit.Hub() {
			perMPS := unit.MotorSpeed(1, bike.Gear{Ratio: 1})
			row.LowSpeed, row.BestSpeed, row.HighSpeed = b.Low/perMPS, b.Best/perMPS, b.High/perMPS
		} else {
			perRPM := unit.SpeedAtCadence(1)
			row.LowRPM, row.BestRPM, row.HighRPM = b.Low/perRPM, b.Best/perRPM, b.High/perRPM
		}
		rows[i] = row
	}
	return rows
}
