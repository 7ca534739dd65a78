package fleet

import (
	"math"
	"strconv"
	"time"

	"cogledger/analysis/fleet"
)

// A Veil makes rows fit to be handed on. The zero value changes nothing.
//
// When Private, no row says whose it is, not by a pseudonym either: beside the
// figures of a ride, which whoever has its log can find again, a pseudonym would
// be undone. For the same reason figures are rounded, and what is a bike's own
// (profile, capacity, resistance) is gone. Groups too small to be shown are left
// out, times of day and paths are gone, and a stretch of
// lugging is told only in a cell that may be shown, away from the ends of its
// ride, by the cell's centre, and without the ride that it belongs to, lest
// stretches be strung together into a trip.
type Veil struct {
	Private    bool
	Pseudonyms fleet.Pseudonyms
	Groups     map[string]bool  // that may be shown
	Cells      map[CellWay]bool // that may be shown
}

// A CellWay is a cell and a direction of travel.
type CellWay struct{ Cell, Direction int64 }

// NewVeil takes what may be shown from a summary and the cells it was made of.
func NewVeil(s *fleet.Summary, cells []fleet.CellTally) Veil {
	v := Veil{Private: s.Options.Private, Pseudonyms: s.Options.Pseudonyms, Groups: make(map[string]bool), Cells: make(map[CellWay]bool)}
	for _, g := range s.Groups {
		v.Groups[g.Name] = true
	}
	for _, c := range cells {
		v.Cells[CellWay{c.Cell, c.Direction}] = true
	}
	return v
}

// ride gives the row as it may be seen.
func (v Veil) ride(r fleet.Ride) fleet.Ride {
	if !v.Private {
		return r
	}
	r.Content, r.Part, r.Path, r.Start = "", 0, "", time.Time{}
	r.Bike, r.Rider, r.Profile = "", "", ""
	r.ResistanceRatio, r.ResistanceSE, r.CapacityWh, r.WindingLimitC = math.NaN(), math.NaN(), math.NaN(), math.NaN()
	r.ResistanceS = 0
	if !v.Groups[r.Group] {
		r.Group = ""
	}
	roughen(fleet.RideColumns(), &r)
	return r
}

func (v Veil) habit(h fleet.Habit) fleet.Habit {
	if v.Private {
		h.Content, h.Part = "", 0
		roughen(fleet.HabitColumns(), &h)
	}
	return h
}

// segment gives the row as it may be seen, and whether it may be at all.
func (v Veil) segment(s fleet.Segment, number int64) (fleet.Segment, bool) {
	if !v.Private {
		return s, true
	}
	if s.NearEnd || !v.Cells[CellWay{s.Cell, s.Direction}] {
		return s, false
	}
	s.Content, s.Part, s.Number = "", 0, number
	s.ToS, s.FromS = s.ToS-s.FromS, 0
	s.Lat, s.Lon = fleet.CellCentre(s.Cell)
	s.WindingC = math.NaN()
	return s, true
}

// roughen rounds every figure of a row to two digits.
func roughen[Row any](columns []fleet.Column[Row], row *Row) {
	for _, c := range columns {
		switch at := c.At(row).(type) {
		case *float64:
			*at = twoDigits(*at)
		case *int64:
			*at = int64(twoDigits(float64(*at)))
		}
	}
}

func twoDigits(v float64) float64 {
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return v
	}
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', 1, 64), 64)
	if err != nil {
		return math.NaN()
	}
	return rounded
}
