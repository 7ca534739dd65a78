package lesson

import (
	"math"
	"slices"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
)

// Turns is how many loaded seconds the motor spent lugging, in its band and
// spinning out while the crank turned at From to From+turnStep a minute. The
// first and the last take what lies beyond.
type Turns struct {
	From                     int
	Lugging, InBand, TooFast int
}

const (
	slowest  = 30 // rpm
	fastest  = 115
	turnStep = 5
)

// turns counts over all rides. The chainring's speed is used, which the legs
// share while they push; so it is told for mid drives only.
func turns(set *analysis.Set) []Turns {
	if set.Bike.Drive.Kind != bike.Mid {
		return nil
	}
	counts := make([]Turns, (fastest-slowest)/turnStep+1)
	for k := range counts {
		counts[k].From = slowest + k*turnStep
	}
	any := false
	for _, res := range set.Rides {
		perRadian := 30 / math.Pi / res.Bike.Drive.TurnsPerCrank
		for i, class := range res.Drive.Class {
			if !class.Loaded() || math.IsNaN(res.Drive.MotorSpeed[i]) {
				continue
			}
			any = true
			k := int(res.Drive.MotorSpeed[i]*perRadian-slowest) / turnStep
			t := &counts[max(0, min(k, len(counts)-1))]
			switch class {
			case drive.Lugging:
				t.Lugging++
			case drive.SpinningOut:
				t.TooFast++
			default:
				t.InBand++
			}
		}
	}
	if !any {
		return nil
	}
	return counts
}

// A Cadence is the number of crank turns a minute below which this rider's
// motor lugs.
type Cadence struct {
	ShiftBelow   int     // rpm, a multiple of five
	LuggingUnder float64 // share of the lugging seconds that were under it
	FineUnder    float64 // share of the other loaded seconds that were under it

	// OnClimbs tells that the number holds on climbs only, where it is the lower
	// edge of the band at the power used there; LuggingUnder and FineUnder speak
	// of climbs then.
	OnClimbs      bool
	ClimbsLugging float64 // share of the loaded seconds on climbs that lug
}

// What makes the number worth saying.
const (
	leastLuggingS = 60
	leastApart    = 0.4  // LuggingUnder less FineUnder
	climbing      = 0.03 // rise over run
	climbsLugging = 0.3
)

// cadence picks the number that best tells lugging from the rest: the largest
// difference between the shares under it (Youden 1950, Cancer 3:32). The band
// moves with power, so no number tells them apart for sure; where even the best
// one does not, none is given.
func cadence(counts []Turns) *Cadence {
	var lugging, fine int
	for _, t := range counts {
		lugging += t.Lugging
		fine += t.InBand + t.TooFast
	}
	if lugging < leastLuggingS || fine == 0 {
		return nil
	}
	var best Cadence
	var lugUnder, fineUnder int
	for _, t := range counts {
		c := Cadence{ShiftBelow: t.From, LuggingUnder: float64(lugUnder) / float64(lugging), FineUnder: float64(fineUnder) / float64(fine)}
		if c.apart() > best.apart() {
			best = c
		}
		lugUnder += t.Lugging
		fineUnder += t.InBand + t.TooFast
	}
	if best.apart() < leastApart {
		return nil
	}
	return &best
}

func (c Cadence) apart() float64 { return c.LuggingUnder - c.FineUnder }

// climbCadence serves riders whose legs turn alike on the flat, where that is
// fine, and on climbs, where it is too slow: it is the middle one of the lower
// edges that the band has, second by second, at the power used on climbs.
func climbCadence(set *analysis.Set) *Cadence {
	if set.Bike.Drive.Kind != bike.Mid {
		return nil
	}
	var edges, lugging, fine []float64 // crank turns a minute
	for _, res := range set.Rides {
		perRadian := 30 / math.Pi / res.Bike.Drive.TurnsPerCrank
		for i, class := range res.Drive.Class {
			turning, edge := res.Drive.MotorSpeed[i]*perRadian, res.Drive.BandLow[i]*perRadian
			if !class.Loaded() || !(res.Road.Grade[i] >= climbing) || math.IsNaN(turning) || math.IsNaN(edge) {
				continue
			}
			edges = append(edges, edge)
			if class == drive.Lugging {
				lugging = append(lugging, turning)
			} else {
				fine = append(fine, turning)
			}
		}
	}
	share := float64(len(lugging)) / float64(len(edges))
	if len(lugging) < leastLuggingS || share < climbsLugging {
		return nil
	}
	slices.Sort(edges)
	below := turnStep * int(math.Round(edges[len(edges)/2]/turnStep))
	if float64(below) > set.Bike.Legs.BandRPM[1] {
		return nil // legs cannot turn that fast in comfort
	}
	return &Cadence{ShiftBelow: below, OnClimbs: true, ClimbsLugging: share, LuggingUnder: under(lugging, below), FineUnder: under(fine, below)}
}

// under is the share of values below a bound, 0 of none.
func under(values []float64, bound int) float64 {
	n := 0
	for _, v := range values {
		if v < float64(bound) {
			n++
		}
	}
	return float64(n) / max(1, float64(len(values)))
}
