package replay

import (
	"math"
	"slices"

	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
	"cogledger/analysis/road"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

// A LaunchRow sets the start that a gear could give beside those ridden in it.
type LaunchRow struct {
	LaunchRun
	Starts     int     // found in the ride
	RiddenTo15 float64 // median s from a stand to 15 km/h of those that got there in this gear, NaN of none
}

// LaunchTable is the start test in every gear, and the starts of the ride. A
// start counts for the gear it began in.
func LaunchTable(r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, o LaunchOptions) ([]LaunchRow, error) {
	all := p.Gears()
	rows := make([]LaunchRow, len(all))
	for k, g := range all {
		run, err := Launch(p, g, o)
		if err != nil {
			return nil, err
		}
		rows[k] = LaunchRow{LaunchRun: run, RiddenTo15: math.NaN()}
	}
	times := make([][]float64, len(all))
	for _, start := range shifts.Starts(r, rd) {
		gear := gears.Unknown
		for s := start.From; s < start.To && gear < 0; s++ {
			gear = inf.Index[s]
		}
		if gear < 0 {
			continue
		}
		rows[gear].Starts++
		if !math.IsNaN(start.To15) {
			times[gear] = append(times[gear], start.To15)
		}
	}
	for k, t := range times {
		if n := len(t); n > 0 {
			slices.Sort(t)
			rows[k].RiddenTo15 = (t[(n-1)/2] + t[n/2]) / 2
		}
	}
	return rows, nil
}
