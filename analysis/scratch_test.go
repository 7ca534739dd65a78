package analysis_test

import (
	"fmt"
	"testing"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
	"cogledger/analysis/made"
	"cogledger/ingest/ride"
)

// TestScratchChangesNothing reviews rides of different lengths, channels and
// bikes one after another in the same memory, and each again in memory of its
// own: nothing of one ride may be seen in the next.
func TestScratchChangesNothing(t *testing.T) {
	course := made.CoastRoad()
	var (
		shared analysis.Scratch
		room   ride.Room
	)
	for seed := range uint64(12) {
		p := bike.Example()
		if seed%4 == 3 {
			p = p.Scaled("battery.resistance_ohm", 1.5)
			p.Drivetrain.Chainrings = []int{30, 44}
		}
		errand := made.Errand(course, seed, 1.5+2*float64(seed%3))
		errand.Told = []made.Told{made.ToldAll, made.ToldNothing}[seed/2%2]
		track := made.Simulate(p, errand, made.Lugger(), seed).Tracks[0]
		for i := range track.Time { // a pause, and a hole in one channel
			if i > 200 && seed%3 == 1 {
				track.Time[i] += 40
			}
			if c := track.Values[ride.CadenceRPM]; c != nil && i > 300 && i < 330 {
				c[i] = -1
			}
		}
		if seed%6 == 5 { // cranks at rest throughout
			for _, c := range []ride.Channel{ride.CadenceRPM, ride.MotorRPM} {
				if track.Values[c] != nil {
					clear(track.Values[c])
				}
			}
		}
		review := func(r *ride.Ride, err error, scratch *analysis.Scratch) string {
			if err != nil {
				t.Fatal(err)
			}
			res, err := analysis.Review(r, p, analysis.Options{
				SkipDoubt: seed%2 == 0, SkipReplays: true, SkipAdvice: seed%5 == 0,
				Scratch: scratch, Gears: gears.Options{CalibrationSeconds: 300},
			})
			if err != nil {
				t.Fatal(err)
			}
			columns := ""
			for c := range ride.ChannelCount {
				columns += fmt.Sprint(c, r.Column(c), r.Marks(c))
			}
			g, d := res.Gears, res.Drive
			return fmt.Sprint(columns, r.Notes, res.Headline, res.Books, res.Classes, res.Legs, res.PerGear, res.LuggingLossW, res.Plan, res.Moments, res.Habits, res.Notes,
				g.Index, g.Best, g.Probability, g.Coupled, g.LagSeconds, g.Circumference,
				res.Road.Grade, res.Road.GradeSigma, res.Road.Demand, d.Class, d.LegsClass, d.Winding, d.BandLow, d.BandHigh, d.Terminal, d.BatteryHeat)
		}
		kept, err := track.RideIn(&room)
		again := review(kept, err, &shared)
		own, err := track.Ride()
		if fresh := review(own, err, nil); fresh != again {
			at := 0
			for at < min(len(fresh), len(again)) && fresh[at] == again[at] {
				at++
			}
			from := max(at-60, 0)
			t.Fatalf("ride %d: in used memory %q, in its own %q", seed, again[from:min(at+60, len(again))], fresh[from:min(at+60, len(fresh))])
		}
	}
}
