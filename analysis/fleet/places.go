package fleet

import (
	"cmp"
	"math"
	"slices"

	"github.com/golang/geo/s2"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

const (
	// CellLevel is the level of the S2 cells that stretches are binned by: about
	// 140 m across.
	CellLevel = 16
	// Directions is the number of sectors that directions of travel fall in.
	Directions = 8

	leastPlaces  = 8        // fewer stretches do not tell what is typical
	falsePlaces  = 0.005    // share of fleets without any such place in which one may be found
	leastBikes   = 5        // different ones in a cell that is compared
	farMore      = 3.0      // times what a typical stretch costs: less is no matter for a road's owner, however sure
	shoulder     = 0.25     // of the dearest cell's loss, from which on a cell that does not touch it belongs to its stretch
	longestM     = 1000     // of a stretch
	earthRadiusM = 6371_000 // mean
)

// A Place is a stretch of road where bikes lug in one direction: one cell of the
// map, or several that touch.
type Place struct {
	Lat, Lon  float64
	Direction int64
	Cells     int
	Bikes     int64 // at least so many different ones
	Riders    int64
	Stretches int64
	Seconds   int64
	LossWh    float64
	Grade     float64
	Verdict   Verdict
}

// Cell gives the cell that holds a position, 0 where there is none.
func Cell(lat, lon float64) int64 {
	if math.IsNaN(lat) || math.IsNaN(lon) {
		return 0
	}
	return int64(s2.CellIDFromLatLng(s2.LatLngFromDegrees(lat, lon)).Parent(CellLevel))
}

// CellCentre is the middle of a cell in degrees, NaN for cell 0.
func CellCentre(cell int64) (lat, lon float64) {
	if cell == 0 {
		return math.NaN(), math.NaN()
	}
	at := s2.CellID(cell).LatLng()
	return at.Lat.Degrees(), at.Lng.Degrees()
}

// Direction gives the sector of a way in metres east and north, -1 where it is
// too short to tell.
func Direction(east, north float64) int64 {
	if !(math.Hypot(east, north) >= 3) {
		return -1
	}
	turn := math.Atan2(east, north) / (2 * math.Pi) * Directions
	return (int64(math.Round(turn)) + Directions) % Directions
}

// DirectionName says where a sector heads.
func DirectionName(direction int64) string {
	if direction < 0 || direction >= Directions {
		return "unknown"
	}
	return [Directions]string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}[direction]
}

// places lists the stretches of road where bikes lug, dearest first. Every cell
// handed in is one that may be shown.
func places(cells []CellTally) []Place {
	cells = slices.DeleteFunc(slices.Clone(cells), func(c CellTally) bool { return c.Cell == 0 })
	stretches := stretchesOf(cells)
	var all []Place
	for i, v := range judgeStretches(stretches) {
		p := place(stretches[i])
		p.Verdict = v
		all = append(all, p)
	}
	slices.SortStableFunc(all, func(a, b Place) int { return descending(a.LossWh, b.LossWh) })
	return all
}

func place(cells []CellTally) Place {
	p := Place{Direction: cells[0].Direction, Cells: len(cells), Grade: math.NaN()}
	weights, grades, graded := 0.0, 0.0, 0.0
	for _, c := range cells {
		p.Bikes, p.Riders = max(p.Bikes, c.Bikes), max(p.Riders, c.Riders)
		p.Stretches += c.Rides
		p.Seconds += c.Seconds
		p.LossWh += c.LossWh
		w := max(c.LossWh, 0) + 1e-9
		weights += w
		p.Lat += w * c.Lat
		p.Lon += w * c.Lon
		if !math.IsNaN(c.Grade) {
			grades += w * c.Grade
			graded += w
		}
	}
	p.Lat, p.Lon = p.Lat/weights, p.Lon/weights
	if graded > 0 {
		p.Grade = grades / graded
	}
	return p
}

// stretchesOf parts the cells into stretches of road, the dearest cell of each
// first. A stretch begins with the dearest cell that is left. To it belong those
// that touch it and are ridden nearly the same way, and from there on those that
// cost a good part of what it costs: the cells of one ramp are one stretch, while
// a busy road does not become one from end to end.
func stretchesOf(cells []CellTally) [][]CellTally {
	type way struct{ cell, direction int64 }
	at := make(map[way]CellTally, len(cells))
	for _, c := range cells {
		at[way{c.Cell, c.Direction}] = c
	}
	leads := slices.Clone(cells)
	slices.SortFunc(leads, func(a, b CellTally) int {
		if enough := b.Bikes >= leastBikes; enough != (a.Bikes >= leastBikes) {
			if enough {
				return 1
			}
			return -1
		}
		return cmp.Or(descending(a.LossWh, b.LossWh), cmp.Compare(a.Cell, b.Cell), cmp.Compare(a.Direction, b.Direction))
	})
	var all [][]CellTally
	for _, lead := range leads {
		if _, free := at[way{lead.Cell, lead.Direction}]; !free {
			continue
		}
		delete(at, way{lead.Cell, lead.Direction})
		stretch := []CellTally{lead}
		for i := 0; i < len(stretch); i++ {
			id := s2.CellID(stretch[i].Cell)
			for _, n := range append(id.AllNeighbors(CellLevel), id) {
				for turn := int64(-1); turn <= 1; turn++ {
					k := way{int64(n), sector(stretch[i].Direction, turn)}
					c, free := at[k]
					if !free || c.LossWh > lead.LossWh || i > 0 && (c.LossWh < shoulder*lead.LossWh || far(c, lead)) {
						continue
					}
					delete(at, k)
					stretch = append(stretch, c)
				}
			}
		}
		all = append(all, stretch)
	}
	return all
}

// sector is the direction so many sectors to the right; an unknown one stays so.
func sector(direction, turn int64) int64 {
	if direction < 0 {
		return direction
	}
	return (direction + turn + Directions) % Directions
}

func far(a, b CellTally) bool {
	return s2.CellID(a.Cell).LatLng().Distance(s2.CellID(b.Cell).LatLng()).Radians()*earthRadiusM > longestM/2
}

// judgeStretches compares the logarithm of what the dearest cell of each stretch
// costs with the other stretches'. Those with few bikes neither serve as peers
// nor stand out: there it is the bikes.
func judgeStretches(stretches [][]CellTally) []Verdict {
	verdicts := make([]Verdict, len(stretches))
	var logs []float64
	for _, s := range stretches {
		if s[0].Bikes >= leastBikes && s[0].LossWh > 0 {
			logs = append(logs, math.Log(s[0].LossWh))
		}
	}
	if len(logs) <= leastPeers {
		return verdicts
	}
	slices.SortFunc(logs, descending)
	high := outlying(logs, falsePlaces)
	limit := math.Inf(1)
	if high > 0 {
		limit = max(logs[high-1], median(logs[high:])+math.Log(farMore))
	}
	for i, s := range stretches {
		switch {
		case s[0].Bikes >= leastBikes && s[0].LossWh > 0 && math.Log(s[0].LossWh) >= limit:
			verdicts[i] = StandsOut
		case len(logs) >= leastPlaces:
			verdicts[i] = Typical
		}
	}
	return verdicts
}

// outlying is how many of the values, in descending order, are too high to be of
// a kind with the rest: Rosner 1983, Percentage points for a generalized ESD
// many-outlier procedure, upwards only. Share is how often one of a kind may be
// taken for higher. Looking for several at once keeps two ramps from hiding one
// another. At least leastPeers are left.
func outlying(values []float64, share float64) int {
	found := 0
	for i := 0; len(values)-i > leastPeers && 2*i < len(values); i++ {
		rest := values[i:]
		n := float64(len(rest))
		mean, sd := stat.MeanStdDev(tailed(rest), nil)
		t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: n - 2}.Quantile(1 - share/n)
		if (rest[0]-mean)*math.Sqrt((n-2+t*t)*n) > sd*(n-1)*t {
			found = i + 1
		}
	}
	return found
}

// tailed draws a tail of low values in until it reaches no farther from the
// median than the high ones but the first do: roads that few take cost next to
// nothing, which says nothing of how dear others may be. Common practice.
func tailed(values []float64) []float64 {
	others := values[1:]
	drawn, middle := slices.Clone(values), median(others)
	for i, high := range others[:len(others)/2] {
		low := &drawn[len(values)-1-i]
		*low = max(*low, 2*middle-high)
	}
	return drawn
}
