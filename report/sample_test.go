package report

import (
	"math"
	"time"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/ledger"
	"cogledger/analysis/replay"
	"cogledger/analysis/road"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

// sampleBike is a bike of a made scenario.
func sampleBike() *bike.Profile {
	return &bike.Profile{
		Name:       "Harbour courier",
		Wheel:      bike.Wheel{Tyre: "47-622"},
		Drivetrain: bike.Drivetrain{Chainrings: []int{38}, Cogs: []int{11, 13, 15, 18, 21, 24, 28, 32, 36, 42}},
		Drive:      bike.Drive{Kind: bike.Mid, TurnsPerCrank: 36},
		Battery:    bike.Battery{NominalV: 48, CapacityWh: 500, ResistanceOhm: 0.11},
	}
}

// sampleResult is a result put together from plain formulas: it looks like a
// ride, and every figure in it is known, so that what the report makes of it
// can be checked. It claims nothing about bikes.
func sampleResult(seconds int, day int) *analysis.Result {
	b := sampleBike()
	all := b.Gears()
	r := ride.New(seconds)
	r.Name = "Morning round"
	r.Start = time.Date(2026, 6, 1+day, 6, 30, 0, 0, time.UTC)
	r.Sources = []ride.Source{{File: "morning.fit", Format: "FIT", Device: "logger", Serial: "12345", Made: true}}
	col := func() []float64 { return make([]float64, seconds) }
	d := &drive.Series{
		Knowledge: drive.FromBattery, MotorSpeed: col(), MotorAmps: col(), Shaft: col(), Volts: col(), Amps: col(), Terminal: col(), Efficiency: col(),
		BatteryHeat: col(), Controller: col(), Copper: col(), Drag: col(), Reduction: col(), Chain: col(), Delivered: col(), Legs: col(), LegsChain: col(),
		BandLow: col(), BandHigh: col(), Winding: col(), Housing: col(), Class: make([]drive.Class, seconds), LegsClass: make([]drive.LegsClass, seconds), Limits: make([]drive.Limit, seconds),
	}
	rd := &road.Series{Moving: make([]bool, seconds), Speed: col(), Distance: col(), Accel: col(), Altitude: col(), Grade: col(), GradeSigma: col(), Density: col(),
		Air: col(), Rolling: col(), Bearings: col(), Climbing: col(), Inertia: col(), Demand: col()}
	inf := &gears.Inference{Index: make([]int, seconds), Best: make([]int, seconds), Probability: col(), Coupled: col(), Circumference: 2.264, CircumferenceLow: 2.25, CircumferenceHigh: 2.28, CircumferenceFromRide: true}
	plan := shifts.Plan{Gear: make([]int, seconds), Terminal: col(), Shifts: 41, ShiftsRidden: 33, Saving: doubt.Figure{Value: 6.1, Low: 3.2, High: 9.4, Basis: doubt.Derived}}
	cadence, lat, lon := col(), col(), col()
	res := &analysis.Result{Ride: r, Bike: b, Gears: inf, Road: rd, Drive: d, Plan: plan}
	res.PerGear = make([]analysis.GearTally, len(all))
	for g := range all {
		res.PerGear[g] = analysis.GearTally{Gear: all[g], MeanMotorRPM: math.NaN(), MeanCadence: math.NaN()}
	}
	winding, housing, at := 24.0, 22.0, 0.0
	for i := range seconds {
		t := float64(i)
		stop := i%620 > 596
		hill := math.Sin(t/310) + 0.4*math.Sin(t/77)
		speed := 6.2 - 2.1*hill
		if stop {
			speed = 0
		}
		at += speed
		grade := 0.035 * hill
		g := max(0, min(9, int(6.5-3*hill+math.Sin(t/45))))
		best := max(0, g-2)
		if hill < 0.3 {
			best = g
		}
		cad := speed / (all[g].Ratio * 2.264) * 60
		w := cad * 36 * 2 * math.Pi / 60
		shaft := math.Max(0, 140+210*hill)
		if stop {
			shaft = 0
		}
		rd.Moving[i], rd.Speed[i], rd.Distance[i], rd.Altitude[i], rd.Grade[i] = !stop, speed, at, 40+30*math.Sin(t/310+4.4)+6*math.Cos(t/77), grade
		inf.Index[i], inf.Best[i], inf.Probability[i], plan.Gear[i] = g, g, 0.97, best
		cadence[i] = math.Round(cad)
		lat[i], lon[i] = 54.3+0.011*math.Sin(t/410), 10.1+0.02*math.Cos(t/370)+0.002*math.Sin(t/90)
		d.MotorSpeed[i], d.Shaft[i] = w, shaft
		d.BandLow[i], d.BandHigh[i] = 130+0.42*shaft, 420+0.3*shaft
		d.Copper[i], d.Drag[i], d.Controller[i] = math.Pow(shaft/math.Max(w, 40), 2)*11, 4+w*0.02, 4+shaft*0.02
		d.Terminal[i] = shaft + d.Copper[i] + d.Drag[i] + d.Controller[i]
		plan.Terminal[i] = d.Terminal[i] * 0.95
		d.Amps[i] = d.Terminal[i] / 48
		d.Volts[i] = 50 - d.Amps[i]*0.11 - t*0.0006
		d.BatteryHeat[i] = d.Amps[i] * d.Amps[i] * 0.11
		d.Reduction[i], d.Chain[i] = shaft*0.05, shaft*0.03
		d.Delivered[i], d.Legs[i] = shaft*0.92, 95+20*math.Sin(t/60)
		d.Efficiency[i] = shaft / math.Max(1, d.Terminal[i])
		winding += (d.Copper[i] - (winding-housing)/0.45) / 120
		housing += ((winding-housing)/0.45 - (housing-20)/0.9) / 1500
		d.Winding[i], d.Housing[i] = winding, housing
		switch {
		case stop:
			d.Class[i] = drive.Stopped
		case shaft < 15 && hill < -0.9:
			d.Class[i] = drive.Coasting
		case shaft < 15:
			d.Class[i] = drive.Resting
		case w < d.BandLow[i]:
			d.Class[i] = drive.Lugging
		case w > d.BandHigh[i]:
			d.Class[i] = drive.SpinningOut
		default:
			d.Class[i] = drive.InBand
		}
		if i > seconds*7/10 && i < seconds*7/10+90 { // a stretch that the log does not cover
			inf.Index[i], d.Class[i] = gears.Unknown, drive.Unclassed
			for _, c := range [][]float64{d.MotorSpeed, d.Shaft, d.Copper, d.Drag, d.Controller, d.Terminal, d.Reduction, d.Chain, d.Delivered, d.BandLow, d.BandHigh, d.BatteryHeat, cadence} {
				c[i] = math.NaN()
			}
		} else {
			inf.PedallingSeconds++
			inf.NamedSeconds++
			tally := &res.PerGear[g]
			tally.Seconds++
			tally.Wh += d.Terminal[i] / 3600
			tally.MeanMotorRPM, tally.MeanCadence = 1480, 68
		}
		res.Classes[d.Class[i]].Seconds++
		if finite(d.Terminal[i]) {
			res.Classes[d.Class[i]].Wh += d.Terminal[i] / 3600
		}
	}
	r.SetColumn(ride.Speed, rd.Speed, nil, ride.WheelSensor)
	r.SetColumn(ride.CadenceRPM, cadence, nil, ride.Device)
	r.SetColumn(ride.Altitude, rd.Altitude, nil, ride.Device)
	r.SetColumn(ride.BatteryVolts, d.Volts, nil, ride.Device)
	r.SetColumn(ride.BatteryAmps, d.Amps, nil, ride.Device)
	r.SetColumn(ride.Latitude, lat, nil, ride.Device)
	r.SetColumn(ride.Longitude, lon, nil, ride.Device)
	res.Plan = plan
	sampleFigures(res, seconds, at)
	sampleDrive(res)
	return res
}

func sampleFigures(res *analysis.Result, seconds int, metres float64) {
	fig := func(v, low, high float64, b doubt.Basis) doubt.Figure {
		return doubt.Figure{Value: v, Low: low, High: high, Basis: b}
	}
	res.Headline = analysis.Headline{
		Seconds: seconds, MovingSeconds: seconds * 96 / 100, Distance: metres, Ascent: 118,
		BatteryWh: fig(128.4, 127.1, 129.7, doubt.Measured), RiderWh: fig(61, 61, 61, doubt.Modelled), WhPerKm: fig(7.9, 7.7, 8.1, doubt.Measured),
		LuggingLossWh: fig(8.6, 5.1, 12.3, doubt.Derived), RangeGainKm: fig(4.2, 2.4, 6.1, doubt.Derived), PlanSavingWh: res.Plan.Saving,
		WindingPeakC: fig(96.2, 84, 111, doubt.Modelled), WindingLimitC: 155, LuggingShare: 0.31, ClassedShare: 0.97,
	}
	res.Books = ledger.Books{
		Battery: []ledger.Account{{Name: ledger.Store, Wh: 131.6, Basis: doubt.Derived}, {Name: ledger.Heat, Wh: 3.2, Basis: doubt.Derived}, {Name: ledger.Controller, Wh: 5.4, Basis: doubt.Derived},
			{Name: ledger.Copper, Wh: 17.9, Basis: doubt.Derived}, {Name: ledger.Drag, Wh: 6.8, Basis: doubt.Derived}, {Name: ledger.Reduction, Wh: 4.9, Basis: doubt.Derived},
			{Name: ledger.Chain, Wh: 2.8, Basis: doubt.Derived}, {Name: ledger.Delivered, Wh: 90.6, Basis: doubt.Derived}},
		Wheel: []ledger.Account{{Name: ledger.FromMotor, Wh: 90.6, Basis: doubt.Derived}, {Name: ledger.FromLegs, Wh: 58.8, Basis: doubt.Modelled}, {Name: ledger.Air, Wh: 61.5, Basis: doubt.Modelled},
			{Name: ledger.Rolling, Wh: 37.1, Basis: doubt.Modelled}, {Name: ledger.Bearings, Wh: 2.1, Basis: doubt.Modelled}, {Name: ledger.Climbing, Wh: 21.3, Basis: doubt.Derived},
			{Name: ledger.Speed, Wh: 4.4, Basis: doubt.Derived}, {Name: ledger.Brakes, Wh: 23.0, Basis: doubt.Modelled}},
		BatteryResidual: 0.003, WheelResidual: 0.004, UnbookedSeconds: 90,
	}
	moment := func(from, to, g1, g2 int, wh float64, words string) shifts.Moment {
		return shifts.Moment{From: from, To: to, StartM: float64(from) * 5.4, Lat: 54.3, Lon: 10.1, Grade: 0.041, GearFrom: g1, GearTo: g2, MotorRPMFrom: 1320, MotorRPMTo: 2010,
			CadenceFrom: 37, CadenceTo: 56, Saving: fig(wh, wh*0.5, wh*1.6, doubt.Derived), WindingDropK: 6, Advised: true, Place: words}
	}
	n := seconds
	res.Moments = []shifts.Moment{
		moment(n*9/100, n*12/100, 5, 3, 1.9, "km 1.3, climb of 4 %"),
		moment(n*23/100, n*24/100, 6, 4, 0.4, "km 3.4, start from a stop"),
		moment(n*41/100, n*46/100, 5, 2, 2.7, "km 6.0, climb of 4 %"),
		moment(n*74/100, n*77/100, 4, 2, 1.2, "km 11.1, climb of 3 %"),
	}
	weak := moment(n*9/10, n*91/100, 3, 2, 0.1, "km 13, flat")
	weak.Saving.Low, weak.Advised = -0.2, false
	res.Moments = append(res.Moments, weak)
	res.Habits = []shifts.Habit{
		{Kind: "late down-shift", Count: 3, Opportunities: 5, Cost: fig(4.8, 2.6, 7.4, doubt.Derived), Advice: "Shift down before the climb, not in it: your motor had been below its band for 14 s on average when you shifted.", Carried: true, Seconds: []int{n * 10 / 100, n * 42 / 100, n * 75 / 100}},
		{Kind: "tall-gear start", Count: 2, Opportunities: 4, Cost: fig(0.9, 0.3, 1.6, doubt.Derived), Advice: "Shift down before you stop, so that you start in an easy gear.", Carried: true, Seconds: []int{n * 23 / 100}},
		{Kind: "spinning out", Count: 1, Cost: fig(0.1, -0.1, 0.3, doubt.Derived), Advice: "Shift up sooner.", Carried: false},
	}
	res.Replays = []replay.Outcome{
		{Name: "as ridden", Kind: "as ridden", BatteryWh: 128.4, CopperWh: 17.9, WindingPeakC: 96.2, FeasibleShare: 1},
		{Name: "with the planned gears", Kind: "plan", BatteryWh: 122.3, CopperWh: 11.2, WindingPeakC: 71, FeasibleShare: 1},
		{Name: "only 38/21", Kind: "single gear", BatteryWh: 133.9, CopperWh: 22.8, WindingPeakC: 118, FeasibleShare: 0.93, SlowerBy: 0.07},
		{Name: "hub motor, 1:5", Kind: "hub", BatteryWh: 146.1, CopperWh: 36.9, WindingPeakC: 171, FeasibleShare: 0.88, SlowerBy: 0.22, OverLimitS: 312},
	}
	res.Assumptions = []analysis.Assumption{
		{Name: "motor.resistance_ohm", Value: 0.12, Unit: "ohm", Source: "profile"}, {Name: "road.crr", Value: 0.008, Unit: "", Source: "default"},
		{Name: "wheel circumference", Value: 2.264, Unit: "m", Source: "learnt from this ride"},
	}
	res.Notes = []ride.Note{{File: "morning.fit", Place: "record 1890", Text: "90 s are missing; nothing is booked in them", Cure: "keep the logger powered at stops"}}
}

// sampleSet is one ride or several.
func sampleSet(rides, seconds int) *analysis.Set {
	set := &analysis.Set{Bike: sampleBike()}
	for k := range rides {
		r := sampleResult(seconds+137*k, k)
		if rides > 1 {
			r.Ride.Name = []string{"Morning round", "To the quay", "Parcels uptown", "Evening round", "Hills", "Flat and windy", "Last of the week"}[k%7]
			scale := 1 - 0.11*float64(k)
			for _, f := range []*doubt.Figure{&r.Headline.LuggingLossWh, &r.Headline.RangeGainKm} {
				f.Value, f.Low, f.High = f.Value*scale, f.Low*scale, f.High*scale
			}
		}
		set.Rides = append(set.Rides, r)
	}
	set.Total, set.Habits = set.Rides[0].Headline, set.Rides[0].Habits
	return set
}
