package fleet

import (
	"math"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/ingest/ride"
)

const (
	nearEndM      = 500 // of the ride's start or end: where people live
	leastSegmentS = 2   // shorter stretches stay in the ride's sums only
	bridgeS       = 3   // seconds out of lugging that do not part a stretch
	lookS         = 3   // seconds to either side that tell the direction of travel
)

// segmentRows cuts the lugging of a ride into stretches of one cell and one
// direction. There is none where the ride does not bear a loss.
func segmentRows(res *analysis.Result, content string, part int) []Segment {
	if !res.Bears.Loss.Given() {
		return nil
	}
	s := segmenter{Result: res, gears: res.Bike.Gears(), lat: res.Ride.Column(ride.Latitude), lon: res.Ride.Column(ride.Longitude)}
	var rows []Segment
	end := 0.0
	if n := len(res.Road.Distance); n > 0 {
		end = res.Road.Distance[n-1]
	}
	for from := 0; from < res.Ride.Len(); {
		if res.Drive.Class[from] != drive.Lugging {
			from++
			continue
		}
		to, cell, direction := s.stretch(from)
		if to-from >= leastSegmentS {
			row := s.row(from, to)
			row.Content, row.Part, row.Number = content, int64(part), int64(len(rows))
			row.Cell, row.Direction = cell, direction
			row.NearEnd = res.Road.Distance[from] < nearEndM || res.Road.Distance[to-1] > end-nearEndM
			rows = append(rows, row)
		}
		from = to
	}
	return rows
}

type segmenter struct {
	*analysis.Result
	gears    []bike.Gear
	lat, lon []float64
}

// stretch runs from a lugging second to where lugging, cell or direction ends.
func (s *segmenter) stretch(from int) (to int, cell, direction int64) {
	cell, direction = s.where(from)
	last := from
	for i := from + 1; i < s.Ride.Len() && i-last <= bridgeS; i++ {
		if s.Drive.Class[i] != drive.Lugging {
			continue
		}
		if c, d := s.where(i); c != cell || d != direction {
			break
		}
		last = i
	}
	return last + 1, cell, direction
}

// where gives cell and direction at a second.
func (s *segmenter) where(i int) (cell, direction int64) {
	if s.lat == nil || s.lon == nil {
		return 0, -1
	}
	cell = Cell(s.lat[i], s.lon[i])
	a, b := max(0, i-lookS), min(s.Ride.Len()-1, i+lookS)
	return cell, Direction(ride.GroundOffset(s.lat[a], s.lon[a], s.lat[b], s.lon[b]))
}

// row sums the seconds [from, to) up.
func (s *segmenter) row(from, to int) Segment {
	row := Segment{FromS: int64(from), ToS: int64(to), Lat: math.NaN(), Lon: math.NaN(), WindingC: s.Drive.Winding[to-1]}
	if middle := (from + to) / 2; s.lat != nil && s.lon != nil {
		row.Lat, row.Lon = s.lat[middle], s.lon[middle]
	}
	used, planned := make([]int, len(s.gears)), make([]int, len(s.gears))
	joules := 0.0
	for i := from; i < to; i++ {
		joules += s.LuggingLossW[i]
		if s.Drive.Class[i] == drive.Lugging && s.Drive.LegsClass[i] == drive.LegsLugging {
			row.LegsLuggingS++
		}
		count(used, s.Gears.Index[i])
		if s.Plan.Gear != nil {
			count(planned, s.Plan.Gear[i])
		}
	}
	row.LossWh = joules / 3600
	row.Grade = meanOf(s.Road.Grade[from:to])
	row.MotorRPM = meanOf(s.Drive.MotorSpeed[from:to]) * 60 / (2 * math.Pi)
	row.GearFrom, row.GearTo = gearName(s.gears, most(used)), gearName(s.gears, most(planned))
	return row
}

func count(tally []int, index int) {
	if index >= 0 && index < len(tally) {
		tally[index]++
	}
}

// most is the index of the greatest count, -1 where all are zero.
func most(tally []int) int {
	best := -1
	for i, n := range tally {
		if n > 0 && (best < 0 || n > tally[best]) {
			best = i
		}
	}
	return best
}
