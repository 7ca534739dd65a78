package analysis

import (
	"fmt"
	"math"
	"strings"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/evidence"
	"cogledger/analysis/gears"
	"cogledger/analysis/ledger"
	"cogledger/analysis/replay"
	"cogledger/analysis/road"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

// Version counts the changes to what an analysis finds in the same ride.
// Stored results of another version are to be made again.
const Version = 4

// Options say how much of a review is wanted. The zero value is all of it.
type Options struct {
	SkipDoubt   bool            // figures carry no interval
	SkipReplays bool            // no replays, fittings or starts
	SkipAdvice  bool            // no moments, band table or list of assumptions, for whoever keeps figures alone
	Others      []*bike.Profile // other bikes to ride the ride on
	Gears       gears.Options
	Scratch     *Scratch // to work in; nil makes its own
}

// A Scratch is memory that one review after another may use, but not two at
// once. The columns of a Result's Gears, Road and Drive lie in it and hold until
// the next review. The zero value is ready.
type Scratch struct {
	gears          gears.Scratch
	plan           shifts.Scratch
	ridden, varied work
}

// work is the memory of the physics.
type work struct {
	on    roadOf
	road  *road.Series
	drive *drive.Series
	every drive.Matrix
}

// roadOf is what the road of one ride depends on.
type roadOf struct {
	bike road.Equation
	airC float64
	wind road.Options
}

// Review analyses one ride on one bike. It fails only where the ride or the
// profile cannot be worked with at all; what the log cannot tell is NaN in the
// Result, with a note.
func Review(r *ride.Ride, p *bike.Profile, o Options) (*Result, error) {
	if problems := p.Check(); len(problems) > 0 {
		return nil, &bike.Error{File: p.Name, Problems: problems}
	}
	if r.Len() < 2 {
		return nil, fmt.Errorf("%s: a ride of %d s is too short to review", origin(r), r.Len())
	}
	scratch := o.Scratch
	if scratch == nil {
		scratch = new(Scratch)
	}
	o.Gears.Scratch = &scratch.gears
	inferred, err := gears.Infer(r, p, o.Gears)
	if err != nil {
		return nil, fmt.Errorf("%s: gear in use: %w", origin(r), err)
	}
	if inferred.Mismatch.Found {
		inferred.Forget()
	}
	s := stages{ride: r, gears: inferred, scratch: scratch}
	m := s.run(p)

	res := &Result{Ride: r, Bike: p, Gears: inferred, Road: m.road, Drive: m.drive}
	res.Books = ledger.Close(m.drive, m.road)
	res.Plan = scratch.plan.Make(r, p, inferred, m.road, m.drive, m.every)
	if !o.SkipAdvice {
		res.Moments = shifts.Moments(r, p, inferred, m.road, m.drive, m.every, res.Plan)
	}
	res.Headline, res.LuggingLossW = s.headline(p, m, res.Plan)
	if !o.SkipDoubt {
		s.intervals(p, res)
	}
	res.Habits = shifts.Habits(r, p, inferred, m.road, m.drive, m.every, res.Plan, res.Moments)
	contradictions := evidence.Find(r, p, m.drive)
	res.Bears = s.bears(p, m, res.Headline, contradictions)
	if !o.SkipReplays && res.Bears.Drive.Given() && res.Bears.Gears.Given() {
		if err := s.replays(p, m, res, o.Others); err != nil {
			return nil, fmt.Errorf("%s: %w", origin(r), err)
		}
	}
	if !o.SkipAdvice {
		if res.Bears.Advice.Given() {
			res.Trials = shifts.Try(r, p, inferred, m.road, m.drive, m.every)
		}
		if res.Trials[0] != nil {
			res.Found = shifts.FindRule(res.Trials[:], res.Plan.Saving.Basis, modelled(res))
			res.Found.Halves = true
		}
		res.Rule = shifts.BandTable(p, []float64{50, 100, 150, 200, 250, 350, 500})
		res.Assumptions = assumptions(p, inferred, m.drive)
	}
	res.withhold()
	res.tally()
	res.Notes = append(append(res.Notes, r.Notes...), inferred.Notes...)
	if res.Bears.Motor.Given() {
		for _, c := range contradictions {
			res.Notes = append(res.Notes, c.Note)
		}
	}
	if b := res.Books; !b.Closed() {
		res.Notes = append(res.Notes, ride.Note{
			Text: fmt.Sprintf("the books do not close: %.3g Wh of the battery side and %.3g Wh of the wheel side are in no account", b.BatteryResidual, b.WheelResidual),
			Cure: "do not rely on the ledger of this ride, and report the log as a fault of the program",
		})
	}
	return res, nil
}

// modelled is the relative half width of what the profile leaves in doubt of
// savings by other gears.
func modelled(rides ...*Result) float64 {
	var width, value float64
	for _, res := range rides {
		if s := res.Plan.Saving; !math.IsNaN(s.High - s.Low) {
			width += (s.High - s.Low) / 2
			value += math.Abs(s.Value)
		}
	}
	if !(value > 0) {
		return 0
	}
	return min(1, width/value)
}

// origin names a ride by the files that it was read from, for errors.
func origin(r *ride.Ride) string {
	files := make([]string, len(r.Sources))
	for i, source := range r.Sources {
		files[i] = source.File
	}
	if name := strings.Join(files, " and "); name != "" {
		return name
	}
	return r.Name
}

// fittingsShown is how many rings and cassettes that would have done better are
// kept.
const fittingsShown = 5

// replays rides the ride on other drives and starts from a stand in each gear.
func (s stages) replays(p *bike.Profile, m physics, res *Result, others []*bike.Profile) (err error) {
	res.Replays = replay.All(s.ride, p, s.gears, m.road, m.drive, m.every, res.Plan)
	for _, other := range others {
		res.Replays = append(res.Replays, replay.With(other, s.ride, p, s.gears, m.road, m.drive, m.every)...)
	}
	res.Fittings = replay.Fittings(s.ride, p, s.gears, m.road, m.drive, m.every, fittingsShown)
	res.Starts, err = replay.LaunchTable(s.ride, p, s.gears, m.road, replay.LaunchOptions{})
	return err
}

// stages holds what stays the same while the profile's numbers are varied: the
// ride and the gears found in it.
type stages struct {
	ride    *ride.Ride
	gears   *gears.Inference
	scratch *Scratch
}

// physics is the ride under one profile.
type physics struct {
	road  *road.Series
	drive *drive.Series
	every *drive.Matrix
}

func (s stages) run(p *bike.Profile) physics {
	return s.under(p, road.Options{}, &s.scratch.ridden, nil)
}

// under is run in any wind, and in memory that may have served before. asked are
// the seconds in which gears will be compared, beside those that lug; nil means
// all.
func (s stages) under(p *bike.Profile, o road.Options, w *work, asked []bool) physics {
	on, ridden := roadOf{road.NewEquation(p), p.Thermal.AmbientC, o}, &s.scratch.ridden
	rd := ridden.road // most numbers of a profile are not the road's
	if w == ridden || on != ridden.on {
		o.Into = w.road
		rd = road.Load(s.ride, p, o)
		w.on, w.road = on, rd
	}
	w.drive = drive.Run(s.ride, p, s.gears, rd, drive.Options{Into: w.drive})
	return physics{rd, w.drive, w.every.Fill(s.ride, p, s.gears, rd, w.drive, asked)}
}
