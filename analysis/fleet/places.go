package fleet

import (
	"math"
	"slices"

	"github.com/golang/geo/s2"
)

const (
	// CellLevel is the level of the S2 cells that stretches are binned by: about
	// 140 m across.
	CellLevel = 16
	// Directions is the number of sectors that directions of travel fall in.
	Directions = 8

	leastPlaces = 8   // cells: fewer cannot be compared
	leastBikes  = 5   // different ones in a cell that is compared
	outlying    = 3.5 // robust standard deviations of the logarithm: Iglewicz and Hoaglin 1993, How to Detect and Handle Outliers
)

// A Place is a patch of the map where bikes lug in one direction: one cell, or
// several that stand out and touch.
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

// places lists the cells where bikes lug, dearest first. Every cell handed in
// is one that may be shown. Those that stand out are joined where they touch
// and are ridden the same way; the others stay single, or a busy road would be
// one place from end to end.
func places(cells []CellTally) []Place {
	cells = slices.DeleteFunc(slices.Clone(cells), func(c CellTally) bool { return c.Cell == 0 })
	verdicts := judgeCells(cells)
	of := joined(cells, verdicts)
	parts := make(map[int][]CellTally)
	for i, c := range cells {
		parts[of.root(i)] = append(parts[of.root(i)], c)
	}
	var all []Place
	for i := range cells {
		if of.root(i) == i {
			p := place(parts[i])
			p.Verdict = verdicts[i]
			all = append(all, p)
		}
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

// judgeCells compares the logarithm of each cell's loss with the others'. The
// spread is taken above the median alone, common practice where values trail
// off far below it, as those of cells that few pass do. Cells with few bikes
// neither serve as peers nor stand out: there it is the bikes.
func judgeCells(cells []CellTally) []Verdict {
	verdicts := make([]Verdict, len(cells))
	var logs []float64
	for _, c := range cells {
		if c.Bikes >= leastBikes && c.LossWh > 0 {
			logs = append(logs, math.Log(c.LossWh))
		}
	}
	if len(logs) < leastPlaces {
		return verdicts
	}
	middle := median(logs)
	var above []float64
	for _, l := range logs {
		if l >= middle {
			above = append(above, l-middle)
		}
	}
	limit := middle + outlying*madToSigma*median(above)
	for i, c := range cells {
		verdicts[i] = Typical
		if c.Bikes >= leastBikes && c.LossWh > 0 && math.Log(c.LossWh) > limit {
			verdicts[i] = StandsOut
		}
	}
	return verdicts
}

// joined unites cells that stand out, touch and are ridden the same way.
func joined(cells []CellTally, verdicts []Verdict) forest {
	type key struct{ cell, direction int64 }
	at := make(map[key]int)
	f := make(forest, len(cells))
	for i, c := range cells {
		f[i] = i
		if verdicts[i] == StandsOut {
			at[key{c.Cell, c.Direction}] = i
		}
	}
	for k, i := range at {
		for _, n := range s2.CellID(k.cell).AllNeighbors(CellLevel) {
			if j, is := at[key{int64(n), k.direction}]; is {
				a, b := f.root(i), f.root(j)
				f[max(a, b)] = min(a, b) // the first cell leads, in whatever order they come
			}
		}
	}
	return f
}

// A forest is a set of disjoint trees: each entry points to its parent.
type forest []int

func (f forest) root(i int) int {
	for f[i] != i {
		f[i] = f[f[i]]
		i = f[i]
	}
	return i
}
