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

	leastPlaces = 8   // fewer cannot be compared
	outlying    = 3.5 // robust standard deviations of the logarithm: Iglewicz and Hoaglin 1993, How to Detect and Handle Outliers
)

// A Place is a patch of the map where bikes lug in one direction: one cell or
// several that touch.
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

// places joins touching cells of one direction, dearest first. Every cell
// handed in is one that may be shown. A place stands out when the logarithm of
// its loss lies far above the other places'.
func places(cells []CellTally) []Place {
	of := joined(cells)
	parts := make(map[int][]CellTally)
	var order []int
	for i, c := range cells {
		if c.Cell == 0 {
			continue
		}
		root := of.root(i)
		if parts[root] == nil {
			order = append(order, root)
		}
		parts[root] = append(parts[root], c)
	}
	var all []Place
	for _, root := range order {
		all = append(all, place(parts[root]))
	}
	slices.SortStableFunc(all, func(a, b Place) int { return descending(a.LossWh, b.LossWh) })
	judgePlaces(all)
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

func judgePlaces(all []Place) {
	var logs []float64
	for _, p := range all {
		if p.LossWh > 0 {
			logs = append(logs, math.Log(p.LossWh))
		}
	}
	if len(logs) < leastPlaces {
		return
	}
	middle := median(logs)
	away := make([]float64, len(logs))
	for i, l := range logs {
		away[i] = math.Abs(l - middle)
	}
	limit := middle + outlying*madToSigma*median(away)
	for i := range all {
		all[i].Verdict = Typical
		if all[i].LossWh > 0 && math.Log(all[i].LossWh) > limit {
			all[i].Verdict = StandsOut
		}
	}
}

// joined unites cells that touch and whose directions are the same.
func joined(cells []CellTally) forest {
	type key struct{ cell, direction int64 }
	at := make(map[key]int, len(cells))
	for i, c := range cells {
		at[key{c.Cell, c.Direction}] = i
	}
	f := make(forest, len(cells))
	for i := range f {
		f[i] = i
	}
	for i, c := range cells {
		if c.Cell == 0 {
			continue
		}
		for _, n := range s2.CellID(c.Cell).AllNeighbors(CellLevel) {
			if j, is := at[key{int64(n), c.Direction}]; is {
				f[f.root(j)] = f.root(i)
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
