package trend

import (
	"math"
	"time"

	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/road"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

// A Ride is what a comparison needs of one ride: sums only, so that thousands
// of rides can be held and added.
type Ride struct {
	Name     string
	Start    time.Time // zero when the log has no absolute time
	Basis    doubt.Basis
	Distance float64 // m
	Ascent   float64 // m, NaN without altitude

	MeteredWh     float64 // out of the battery, in the seconds that tell it
	MeteredMetres float64 // ridden in those seconds

	Cells  [Conditions]Cell
	Habits []Rate
}

// A Cell is what happened in one condition.
type Cell struct {
	Loaded  float64 // s with the motor loaded
	Lugging float64 // s of those below its efficient band
	Wh      float64 // out of the battery, in the seconds that draw on it and have a plan
	BestWh  float64 // with the planned gears in the same seconds
}

// A Rate is how often a habit showed, and how often it could have.
type Rate struct {
	Kind   string
	Count  float64
	Chance float64 // occasions on which it could have; 0 where the habit has none
	Km     float64 // of riding looked at; the measure where there are no occasions
}

// Sum condenses a reviewed ride.
func Sum(r *ride.Ride, rd *road.Series, d *drive.Series, plan shifts.Plan, habits []shifts.Habit) Ride {
	sum := Ride{Name: r.Name, Start: r.Start, Basis: d.Knowledge.Basis(), Ascent: rd.Ascent()}
	if n := len(rd.Distance); n > 0 {
		sum.Distance = rd.Distance[n-1]
	}
	sinceStand := startSeconds
	for i := range r.Len() {
		sinceStand++
		if at(rd.Speed, i) < standing {
			sinceStand = 0
		}
		if r.Paused(i) {
			continue
		}
		terminal := at(d.Terminal, i)
		if !math.IsNaN(terminal) && !math.IsNaN(at(rd.Speed, i)) {
			sum.MeteredWh += terminal / 3600
			sum.MeteredMetres += rd.Speed[i]
		}
		cell := &sum.Cells[condition(at(rd.Grade, i), at(d.Delivered, i), sinceStand)]
		if d.Class[i].Loaded() {
			cell.Loaded++
			if d.Class[i] == drive.Lugging {
				cell.Lugging++
			}
		}
		if best := at(plan.Terminal, i); terminal > 0 && best > 0 {
			cell.Wh += terminal / 3600
			cell.BestWh += best / 3600
		}
	}
	for _, h := range habits {
		// How often a shift looks loaded goes with the hills, and one-second logs
		// find about a third of those that are: no ground for a verdict.
		if h.Measurable && h.Kind != shifts.ShiftUnderLoad {
			sum.Habits = append(sum.Habits, Rate{h.Kind, float64(h.Count), float64(h.Opportunities), h.OverKm})
		}
	}
	return sum
}

// at is column[i], NaN where the column is absent.
func at(column []float64, i int) float64 {
	if i >= len(column) {
		return math.NaN()
	}
	return column[i]
}
