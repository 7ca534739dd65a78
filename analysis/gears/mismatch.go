package gears

import (
	"fmt"
	"math"
	"slices"

	"cogledger/analysis/bike"
	"cogledger/ingest/ride"
)

// A ride contradicts its profile when its steady driving gathers on lines, but
// so much of it not on those of the profile.
const (
	gathers     = 0.85
	contradicts = 0.15
	oddSeconds  = 60
)

// question compares the gears of the profile with the steady runs of a ride, in
// no more than most seconds of it. Where the two disagree it says what would
// fit: another wheel or ring with the cogs as they are, or other cogs.
func (m *model) question(v *view, most int, p *bike.Profile) []ride.Note {
	var runs []run
	for _, s := range heard(len(v.kind), most) {
		runs = append(runs, v.part(s).runs()...)
	}
	profile := mixture{}
	for _, r := range m.logRatio {
		profile.peaks = append(profile.peaks, peak{centre: m.logC + r})
	}
	own, steady := profile.explained(runs)
	if (1-own)*steady < oddSeconds || 1-own < contradicts {
		return nil
	}
	lines := fitMixture(runs)
	if free, _ := lines.explained(runs); free < gathers || free-own < contradicts {
		return nil // too noisy a ride to contradict anything
	}
	return []ride.Note{{
		Text: fmt.Sprintf("%.0f of %.0f seconds of steady riding fit no gear of the profile", (1-own)*steady, steady),
		Cure: cure(lines.peaks, p),
	}}
}

// cure weighs two explanations of the peaks: cogs as in the profile on another
// wheel or ring, and other cogs on the wheel and rings of the profile.
func cure(peaks []peak, p *bike.Profile) string {
	d := p.Drivetrain
	cogs := d.Cogs
	if len(d.HubGears) > 0 {
		cogs = nil
	}
	anyWheel := newFitter(peaks, notches(cogs, d.HubGears), math.Log(0.8), math.Log(mostRing*mostWheel)).
		fitRings(distances(d.Chainrings), nearWheel(p))
	if len(d.HubGears) > 0 {
		return "check the teeth of chainring and sprocket, and the tyre"
	}
	known := Known{Chainrings: d.Chainrings, Circumference: p.Circumference()}
	low, high := ringRange(known)
	otherCogs := newFitter(peaks, notches(nil, nil), low, high).fitRings(distances(d.Chainrings), known.prior)
	switch {
	case anyWheel.evidence > otherCogs.evidence && anyWheel.placed() == len(peaks):
		return otherWheel(anyWheel, p)
	case otherCogs.placed() > 0:
		return cogsThatFit(otherCogs, d.Cogs)
	}
	return "check the teeth of chainrings and cogs, and the tyre"
}

// nearWheel weighs ring metres by how far the wheel or the ring would be from
// those of the profile.
func nearWheel(p *bike.Profile) func(logRing float64) float64 {
	const apart = 0.1 // relative
	typed := math.Log(float64(slices.Min(p.Drivetrain.Chainrings)) * p.Circumference())
	return func(logRing float64) float64 {
		z := (logRing - typed) / apart
		return math.Exp(-z * z / 2)
	}
}

func (f *fit) placed() int {
	n := 0
	for _, p := range f.places {
		if p.ring >= 0 {
			n++
		}
	}
	return n
}

func otherWheel(f fit, p *bike.Profile) string {
	ring := slices.Min(p.Drivetrain.Chainrings)
	metres := math.Exp(f.logRing[0])
	text := fmt.Sprintf("a wheel of %.0f mm would fit", 1000*metres/float64(ring))
	if len(p.Drivetrain.Chainrings) == 1 {
		text += fmt.Sprintf(", or a chainring of %.0f teeth", metres/p.Circumference())
	}
	return text
}

func cogsThatFit(f fit, have []int) string {
	var fits, lacks []int
	for _, p := range f.places {
		if p.ring < 0 || slices.Contains(fits, p.notch.cog) {
			continue
		}
		fits = append(fits, p.notch.cog)
		if !slices.Contains(have, p.notch.cog) {
			lacks = append(lacks, p.notch.cog)
		}
	}
	slices.Sort(fits)
	slices.Sort(lacks)
	if len(lacks) == 0 {
		return "check the teeth of chainrings and cogs, and the tyre"
	}
	return fmt.Sprintf("with these chainrings and this wheel, cogs of %v teeth would fit; the profile lacks %v", fits, lacks)
}
