package gears

import (
	"fmt"
	"math"
	"slices"

	"cogledger/analysis/bike"
	"cogledger/ingest/ride"
)

// A Mismatch says that a ride contradicts the drivetrain of its profile. No gear
// named on such a ride can be relied on.
type Mismatch struct {
	Found    bool
	Share    float64 // of the steady seconds that fit no gear of the profile, 0..1
	Seconds  float64 // of steady riding that the share is taken of
	Sentence string  // what was found
	Cure     string  // what would fit, or what to check

	// What would fit, in place of what the profile says; empty where as typed.
	Chainrings    []int   // teeth
	Cogs          []int   // teeth
	Circumference float64 // m; 0 where as typed
}

// Note is the mismatch as a note on the ride.
func (m *Mismatch) Note() ride.Note { return ride.Note{Text: m.Sentence, Cure: m.Cure} }

// Forget takes back every gear named, for a ride whose drivetrain is not that of
// the profile.
func (f *Inference) Forget() {
	for t := range f.Index {
		f.Index[t], f.Best[t], f.Probability[t] = Unknown, Unknown, 0
	}
	f.NamedSeconds = 0
}

// A ride contradicts its profile grossly when its steady driving gathers on
// lines, but so much of it not on those of the profile.
const (
	gathers     = 0.85
	contradicts = 0.15
	oddSeconds  = 60
	astray      = 0.35  // share of steady driving on the profile's gears; any ratios would have nearly as much
	oddWheel    = 0.018 // log of the wheel found over the one typed in
)

// question compares the gears of the profile with the steady runs of a ride, in
// no more than most seconds of it.
//
// Counting runs near a gear is not enough: more than twenty gears lie near any
// ratio. So the runs of each gear are asked for their mean, and where one lies
// aside, the lines that the ride itself shows (a free mixture) are weighed, as
// likelihoods, against the profile and against those that differ from it in a
// few teeth, a ring or the wheel.
func (m *model) question(v *view, most int, p *bike.Profile) Mismatch {
	var runs []run
	for _, s := range heard(len(v.kind), most) {
		runs = append(runs, v.part(s).runs()...)
	}
	profile := mixture{}
	for _, r := range m.logRatio {
		profile.peaks = append(profile.peaks, peak{centre: m.logC + r})
	}
	own, steady := profile.explained(runs)
	grossly := (1-own)*steady >= oddSeconds && 1-own >= contradicts
	if typed := math.Log(p.Circumference()); !grossly && !m.aside(runs) && math.Abs(m.logC-typed) < oddWheel {
		return Mismatch{}
	}
	lines := fitMixture(runs)
	free, _ := lines.explained(runs)
	found := Mismatch{
		Share: 1 - own, Seconds: steady,
		Sentence: fmt.Sprintf("%.0f of %.0f seconds of steady riding fit no gear of the profile", (1-own)*steady, steady),
	}
	if mend(&found, lines.peaks, p) {
		return found
	}
	hopeless := own < astray && steady >= 2*oddSeconds // whatever the bike is, it is not this one
	if !hopeless && (!grossly || free < gathers || free-own < contradicts) {
		return Mismatch{} // too noisy a ride to contradict anything
	}
	found.Found, found.Cure = true, "check the teeth of chainrings and cogs, and the tyre"
	if len(lines.peaks) > 0 {
		found.Cure = gross(lines.peaks, p)
	}
	return found
}

// aside tells whether the runs nearest to one of the gears lie, on average,
// beside it by more than wheel and noise explain.
func (m *model) aside(runs []run) bool {
	const enough, by, sigmas = 20.0, 0.006, 2.5 // s; of log development
	type sums struct{ seconds, weight, off float64 }
	gears := make([]sums, len(m.logRatio))
	for _, r := range runs {
		x, best, least := r.mean-m.logC, 0, math.Inf(1)
		for g, ratio := range m.logRatio {
			if d := math.Abs(x - ratio); d < least {
				best, least = g, d
			}
		}
		w := 1 / (r.error*r.error + leastMisfit*leastMisfit)
		gears[best].seconds += r.seconds
		gears[best].weight += w
		gears[best].off += w * (x - m.logRatio[best])
	}
	for _, g := range gears {
		off := math.Abs(g.off / g.weight)
		if g.seconds >= enough && off > by && off > sigmas*math.Hypot(1/math.Sqrt(g.weight), leastMisfit) {
			return true
		}
	}
	return false
}

// gross weighs two explanations of peaks that few teeth cannot mend: cogs as in the profile on another
// wheel or ring, and other cogs on the wheel and rings of the profile.
func gross(peaks []peak, p *bike.Profile) string {
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
