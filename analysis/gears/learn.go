package gears

import (
	"errors"
	"fmt"
	"math"

	"cogledger/analysis/bike"
	"cogledger/ingest/ride"
)

// Known is what is known of a drivetrain before rides are heard. Every field
// may be left empty.
type Known struct {
	Chainrings    []int      // teeth, all of them
	Cogs          []int      // teeth, all of them
	HubGears      []float64  // ratios of a gear hub, lowest first; then there is one ring and one sprocket
	Circumference float64    // m, of the driven wheel
	Drive         bike.Drive // a logged motor speed of a mid drive tells gears too
}

// Learnt is what rides tell of a drivetrain.
type Learnt struct {
	Steps     bool    // false: no gears found, as on a continuously variable hub
	Lines     []Line  // the gears found, lowest first
	Explained float64 // share of the steady seconds within 1.5 % of a line
	Steady    float64 // s of steady driving heard

	Chainrings []int     // teeth; assumed where AssumedRings
	Cogs       []int     // those found in use, smallest first
	HubGears   []float64 // as known
	// RingMetres is ring teeth times circumference, the one thing that speed and
	// cadence tell of both: development times the teeth of the cog.
	RingMetres    []float64 // m, ring by ring; ratio 1 of a gear hub
	Circumference float64   // m; assumed where AssumedCircumference

	AssumedRings, AssumedCircumference bool
	Certainty                          float64 // of the teeth as a whole, 0..1

	Histogram Histogram
	Notes     []ride.Note
}

// A Line is one gear found.
type Line struct {
	Development float64 // m a crank turn
	Low, High   float64 // 90 % interval
	Seconds     float64 // of steady driving in it
	Ring, Cog   int     // teeth; 0 where they cannot be told
	HubStep     int     // 1.. of a gear hub, else 0
	Certainty   float64 // that these teeth are right and not the next, 0..1
}

// A Histogram holds seconds of steady driving over development, in bins that
// are alike in proportion: bin i goes from Low*Growth^i to Low*Growth^(i+1).
type Histogram struct {
	Low, Growth float64 // m; factor
	Seconds     []float64
}

// Learn finds the gears of a bike from its rides. It fails when no ride has
// both speed and cadence, or none is driven steadily.
func Learn(rides []*ride.Ride, known Known, o Options) (*Learnt, error) {
	if len(rides) == 0 {
		return nil, errors.New("no ride to learn from")
	}
	runs, err := hearAll(rides, known)
	if err != nil {
		return nil, err
	}
	l := &Learnt{Histogram: histogram(runs), HubGears: known.HubGears, Circumference: known.Circumference}
	for _, r := range runs {
		l.Steady += r.seconds
	}
	if len(known.HubGears) > 0 {
		l.fitHub(runs, known)
	} else {
		l.fitTeeth(runs, known)
	}
	l.Steps = l.Steps && len(l.Lines) > 0 && l.Explained >= leastExplained
	if !l.Steps {
		l.Notes = append(l.Notes[:0], ride.Note{
			Text: fmt.Sprintf("no gears found: %.0f s of steady driving do not gather at fixed ratios of speed and cadence", l.Steady),
			Cure: "a continuously variable hub has none; else add rides, or a log with a wheel sensor",
		})
		l.Lines, l.Chainrings, l.Cogs, l.RingMetres = nil, nil, nil, nil
	}
	return l, nil
}

// leastExplained is the share of steady seconds on few lines below which there
// are no steps.
const leastExplained = 0.6

// hearAll gathers the runs of all rides, each at its own lag.
func hearAll(rides []*ride.Ride, known Known) ([]run, error) {
	var runs []run
	usable := false
	for _, r := range rides {
		e, _ := gather(r, known.Drive, new(bump[float64]))
		if !e.usable() {
			continue
		}
		usable = true
		runs = append(runs, e.bestRuns(r)...)
	}
	if !usable {
		return nil, errors.New("no ride has both speed and cadence: gears cannot be learnt from it")
	}
	if len(runs) == 0 {
		return nil, errors.New("nowhere on the rides do speed and cadence keep a steady ratio for some seconds: gears cannot be learnt from them")
	}
	return runs, nil
}

// bestRuns hears the ride by its speed and, where a device logged distance of
// its own, by that too, and keeps what gathers better: filters that smooth
// speed distort it for seconds after a change.
func (e *evidence) bestRuns(r *ride.Ride) []run {
	runs := e.heardRuns()
	if from := r.Origin(ride.Distance); from != ride.Device && from != ride.WheelSensor {
		return runs
	}
	by := *e
	by.speed = differences(r.Column(ride.Distance))
	if other := by.heardRuns(); gathered(other) > gathered(runs) {
		return other
	}
	return runs
}

func (e *evidence) heardRuns() []run {
	n := len(e.speed)
	return e.at(new(view), e.lag(heard(n, 0)), 0, n).runs()
}

// gathered is how many seconds of steady runs lie on lines, less three times
// those that do not.
func gathered(runs []run) float64 {
	m := fitMixture(runs)
	sum := 0.0
	for _, r := range runs {
		if r.seconds < steadyRun {
			continue
		}
		if m.near(r.mean) {
			sum += r.seconds
		} else {
			sum -= 3 * r.seconds
		}
	}
	return sum
}

// differences of a cumulative column are its value a second.
func differences(total []float64) []float64 {
	d := make([]float64, len(total))
	for t := range d {
		d[t] = math.NaN()
		if t > 0 {
			d[t] = total[t] - total[t-1]
		}
	}
	return d
}

func histogram(runs []run) Histogram {
	const step = 0.005
	low, high := math.Inf(1), math.Inf(-1)
	for _, r := range runs {
		low, high = min(low, r.mean), max(high, r.mean)
	}
	low -= 2 * step
	h := Histogram{Low: math.Exp(low), Growth: math.Exp(step), Seconds: make([]float64, int((high-low)/step)+3)}
	for _, r := range runs {
		h.Seconds[int((r.mean-low)/step)] += r.seconds
	}
	return h
}
