package report

import (
	"math"
	"strings"
	"time"

	"cogledger/analysis"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/ingest/ride"
)

func one(r *analysis.Result) *analysis.Set {
	return &analysis.Set{Bike: r.Bike, Rides: []*analysis.Result{r}, Total: r.Headline, Habits: r.Habits}
}

// bareResult is a ride of which the log holds only positions: next to nothing
// can be told.
func bareResult() *analysis.Result {
	full := sampleResult(240, 0)
	r := ride.New(240)
	r.Name, r.Sources = "walk.gpx", []ride.Source{{File: "walk.gpx", Format: "GPX"}}
	r.SetColumn(ride.Latitude, full.Ride.Column(ride.Latitude), nil, ride.Device)
	r.SetColumn(ride.Longitude, full.Ride.Column(ride.Longitude), nil, ride.Device)
	nothing := doubt.Figure{Value: math.NaN(), Low: math.NaN(), High: math.NaN(), Basis: doubt.Modelled}
	empty := make([]float64, 240)
	index := make([]int, 240)
	for i := range empty {
		empty[i], index[i] = math.NaN(), gears.Unknown
	}
	res := &analysis.Result{
		Ride: r, Bike: full.Bike, Road: full.Road, Gears: &gears.Inference{Index: index, Best: index, Probability: empty, Coupled: empty, Circumference: math.NaN()},
		Drive: &drive.Series{Knowledge: drive.FromRoad, MotorSpeed: empty, Shaft: empty, Terminal: empty, Winding: empty, Class: make([]drive.Class, 240)},
		Headline: analysis.Headline{
			Seconds: 240, MovingSeconds: 230, Distance: 1300, Ascent: math.NaN(), BatteryWh: nothing, RiderWh: nothing, WhPerKm: nothing, LuggingLossWh: nothing,
			RangeGainKm: nothing, PlanSavingWh: nothing, WindingPeakC: nothing, WindingLimitC: 155, LuggingShare: math.NaN(), ClassedShare: 0,
		},
	}
	res.Plan.Saving = nothing
	res.Classes[drive.Unclassed].Seconds = 240
	res.Notes = []ride.Note{{Text: "the log has no cadence: the gear cannot be told", Cure: "carry a cadence sensor"}}
	return res
}

// goodResult has nothing worth changing: the loss is small and in doubt.
func goodResult() *analysis.Result {
	res := sampleResult(240, 0)
	res.Headline.LuggingLossWh = doubt.Figure{Value: 0.4, Low: -0.3, High: 1.1, Basis: doubt.Derived}
	res.Headline.PlanSavingWh = doubt.Figure{Value: 0.9, Low: 0.2, High: 1.5, Basis: doubt.Derived}
	res.Headline.RangeGainKm = doubt.Figure{Value: 0.2, Low: -0.1, High: 0.5, Basis: doubt.Derived}
	return res
}

// modelledResult has neither battery channels nor motor power.
func modelledResult() *analysis.Result {
	res := sampleResult(240, 0)
	res.Drive.Knowledge = drive.FromRoad
	for _, f := range []*doubt.Figure{&res.Headline.BatteryWh, &res.Headline.LuggingLossWh, &res.Headline.WhPerKm, &res.Headline.RangeGainKm} {
		f.Basis = doubt.Modelled
		f.Low, f.High = f.Value*0.4, f.Value*1.7
	}
	return res
}

const hostileName = "<script>alert(1)</script>"

// hostileResult carries texts that try to break out of wherever they are put.
func hostileResult() *analysis.Result {
	res := sampleResult(240, 0)
	res.Ride.Name = hostileName
	b := *res.Bike
	b.Name = "=cmd|' /C calc'!A0 \u202edlrow\u202c 🚲 <img src=x onerror=alert(2)>"
	res.Bike = &b
	res.Ride.Sources[0].File = `"><script>alert(3)</script>.fit`
	res.Ride.Start = time.Time{}
	res.Notes = []ride.Note{
		{File: "</script><script>alert(4)</script>", Place: "x' onmouseover='alert(5)", Text: strings.Repeat("long ", 2000), Cure: "{{.}} ]]> --> \x1b[31m"},
		{Text: "שלום עולם مرحبا 🚴‍♀️ __f__return 1__f__ \u2028 \u2029"},
	}
	res.Moments[0].Place = "</title></style></script><script>alert(6)</script>"
	res.Habits[0].Advice = "<b onclick=alert(7)>shift</b> {b|x} \x07"
	res.Replays[1].Name = "+SUM(A1:A9)"
	res.Assumptions[0].Source = "@import url(http://example.invalid)"
	return res
}

// emptyResult has no column at all, as if every stage had given up.
func emptyResult() *analysis.Result {
	bare := bareResult()
	r := ride.New(30)
	return &analysis.Result{Ride: r, Bike: bare.Bike, Headline: bare.Headline, Plan: bare.Plan}
}
