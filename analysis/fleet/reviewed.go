package fleet

import (
	"math"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/learn"
	"cogledger/ingest/ride"
)

// Rows turns the review of one ride into its rows. Doubted tells whether the
// review computed intervals.
func Rows(res *analysis.Result, content string, part int, path string, to Assignment, doubted bool) (Ride, []Habit, []Segment) {
	h, classes := res.Headline, res.Classes
	row := Ride{
		Content: content, Part: int64(part), Path: path, Assignment: to, Version: Version(),
		Start: res.Ride.Start, Month: Unknown, Made: made(res.Ride), Basis: res.Drive.Knowledge.Basis().String(),
		Seconds: int64(h.Seconds), MovingS: int64(h.MovingSeconds), DistanceM: h.Distance, AscentM: h.Ascent,
		AirC:      meanOf(res.Ride.Column(ride.AirTemp)),
		BatteryWh: h.BatteryWh.Value, RiderWh: h.RiderWh.Value,
		LossWh: h.LuggingLossWh.Value, LossLow: math.NaN(), LossHigh: math.NaN(), PlanSavingWh: followed(res),
		CopperWh: wattHours(res.Drive.Copper), BatteryHeatWh: wattHours(res.Drive.BatteryHeat),
		LuggingS: seconds(classes, drive.Lugging), InBandS: seconds(classes, drive.InBand), SpinningS: seconds(classes, drive.SpinningOut),
		RestingS: seconds(classes, drive.Resting), CoastingS: seconds(classes, drive.Coasting), StoppedS: seconds(classes, drive.Stopped),
		UnknownS: seconds(classes, drive.Unclassed), LuggingWh: classes[drive.Lugging].Wh,
		LegsLuggingS: int64(res.Legs[drive.LegsLugging]), BothLuggingS: int64(res.BothLug),
		PedallingS: int64(res.Gears.PedallingSeconds), NamedS: int64(res.Gears.NamedSeconds),
		Shifts: int64(res.Plan.ShiftsRidden), ShiftsPlanned: int64(res.Plan.Shifts),
		WindingPeakC: h.WindingPeakC.Value, WindingLimitC: h.WindingLimitC, OverLimitS: over(res.Drive.Winding, h.WindingLimitC),
		CapacityWh: res.Bike.Battery.CapacityWh, Warnings: int64(len(res.Notes)),
	}
	if !row.Start.IsZero() {
		row.Start = row.Start.UTC()
		row.Month = row.Start.Format("2006-01")
	}
	if doubted {
		row.LossLow, row.LossHigh = h.LuggingLossWh.Low, h.LuggingLossWh.High
	}
	learnt := Resistance(res.Ride, res.Bike)
	row.ResistanceRatio = learnt.Value / res.Bike.Battery.ResistanceOhm
	row.ResistanceSE = learnt.SE / res.Bike.Battery.ResistanceOhm
	row.ResistanceS = learnt.N
	return row, habitRows(res, content, part), segmentRows(res, content, part)
}

func habitRows(res *analysis.Result, content string, part int) []Habit {
	var rows []Habit
	for _, h := range res.Habits {
		if h.Count > 0 || h.Opportunities > 0 {
			rows = append(rows, Habit{content, int64(part), h.Kind, int64(h.Count), int64(h.Opportunities), h.Cost.Value})
		}
	}
	return rows
}

const (
	mostPlausible = 3.0  // ohm, of any pack that still rides
	breadth       = 0.25 // most relative standard error that is kept
)

// Resistance learns the battery's direct-current resistance in ohm from one
// ride, quick and slow part together, as a profile has it; N is the seconds
// that it rests on. NaN where the log does not tell. A step from one second to
// the next would see the quick part only.
func Resistance(r *ride.Ride, p *bike.Profile) Estimate {
	b, err := learn.BatteryOf(r, p)
	if err != nil || !(b.Ohm > 0 && b.Ohm < mostPlausible && b.Sigma < breadth*b.Ohm) {
		return Estimate{Value: math.NaN(), SE: math.NaN()}
	}
	return Estimate{Value: b.Ohm, SE: b.Sigma, N: int64(b.Seconds)}
}

func seconds(classes [drive.ClassCount]analysis.ClassTally, c drive.Class) int64 {
	return int64(classes[c].Seconds)
}

// over counts the seconds above a limit.
func over(column []float64, limit float64) int64 {
	var n int64
	for _, v := range column {
		if v > limit {
			n++
		}
	}
	return n
}

func wattHours(watts []float64) float64 {
	sum, known := 0.0, false
	for _, w := range watts {
		if !math.IsNaN(w) {
			sum, known = sum+w, true
		}
	}
	if !known {
		return math.NaN()
	}
	return sum / 3600
}

func meanOf(column []float64) float64 {
	sum, n := 0.0, 0.0
	for _, v := range column {
		if !math.IsNaN(v) {
			sum, n = sum+v, n+1
		}
	}
	return sum / n
}

func made(r *ride.Ride) bool {
	for _, s := range r.Sources {
		if s.Made {
			return true
		}
	}
	return false
}

// gearName names a gear index, empty where unknown.
func gearName(list []bike.Gear, index int) string {
	if index < 0 || index >= len(list) {
		return ""
	}
	return list[index].String()
}

// followed is what a rider who minds the battery alone gets of the plan: a plan
// that spends energy for the legs' sake is no saving. NaN where unknown.
func followed(res *analysis.Result) float64 {
	if math.IsNaN(res.Headline.PlanSavingWh.Value) {
		return math.NaN()
	}
	return res.Plan.EnergyWh
}
