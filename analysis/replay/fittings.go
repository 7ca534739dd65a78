package replay

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/road"
	"cogledger/ingest/ride"
)

// A Fitting is a chainring or a cassette that could be put on this bike, and
// what the ride would have taken with it, every second in its best gear.
type Fitting struct {
	Name       string
	Chainrings []int
	Cogs       []int
	BatteryWh  float64 // out of the battery's terminals in the loaded seconds, shifts free
	SavingWh   float64 // against the bike as it is, shifted as freely
	HeldShare  float64 // share of the loaded seconds in which the ride's speed is held
	LegsOut    float64 // share of the loaded seconds with the legs out of their band
	Fitted     bool    // the bike as it is
}

// Cassettes are the sprockets on sale that Fittings tries, smallest first.
// Common practice: such sets are sold under many names.
func Cassettes() [][]int {
	return [][]int{
		{11, 13, 15, 18, 21, 24, 28, 32},
		{11, 13, 15, 17, 20, 23, 26, 30, 34},
		{11, 13, 15, 17, 19, 21, 24, 28, 32, 36},
		{11, 13, 15, 17, 19, 21, 24, 28, 32, 37, 42},
		{11, 13, 15, 17, 19, 21, 24, 28, 32, 37, 46},
		{11, 12, 13, 14, 15, 17, 19, 21, 23, 25, 28},
		{11, 12, 13, 14, 16, 18, 20, 22, 25, 28, 32},
		{10, 12, 14, 16, 18, 21, 24, 28, 33, 39, 45, 51},
		{11, 13, 15, 17, 19, 22, 25, 28, 32, 36, 42, 50},
	}
}

// Rings on sale, teeth.
const (
	smallestRing = 28
	largestRing  = 52
)

// The grid on which the loaded seconds are gathered: the search asks the drive
// once a cell instead of once a second.
const (
	cellSpeed = 0.4 // m/s
	cellPower = 20  // W
)

// Fittings tries other chainrings, other cassettes, and both, on a derailleur
// mid drive, and ranks what holds the ride at least as well as the bike does, by
// the battery's energy. The first is the bike as it is; nil where changing
// gears cannot change what the motor does.
//
// Wheel speed, wheel power and leg power stay; the legs' band is kept where a
// gear allows it. Gathering seconds in cells is exact to the cells' width; ride
// the best one through With for its real figures.
func Fittings(r *ride.Ride, p *bike.Profile, inf *gears.Inference, rd *road.Series, d *drive.Series, m *drive.Matrix, most int) []Fitting {
	unit := drive.NewUnit(p).Rolling(inf.Circumference)
	if unit.Hub() || len(p.Drivetrain.HubGears) > 0 || most < 1 {
		return nil
	}
	s := search{p: p, unit: unit, cells: gather(survey(r, p, inf, rd, d, m))}
	if len(s.cells) == 0 {
		return nil
	}
	now := s.try("as fitted", p.Drivetrain.Chainrings, p.Drivetrain.Cogs)
	now.Fitted = true
	var better []Fitting
	add := func(f Fitting) {
		f.SavingWh = now.BatteryWh - f.BatteryWh
		if f.SavingWh > 0 && f.HeldShare >= now.HeldShare && f.LegsOut <= now.LegsOut {
			better = append(better, f)
		}
	}
	fitted := slices.Max(p.Drivetrain.Chainrings)
	for ring := smallestRing; ring <= largestRing; ring++ {
		if ring == fitted {
			continue
		}
		add(s.try(fmt.Sprintf("chainring %d", ring), []int{ring}, p.Drivetrain.Cogs))
	}
	for _, cogs := range Cassettes() {
		set := fmt.Sprintf("cassette %d-%d, %d cogs", cogs[0], cogs[len(cogs)-1], len(cogs))
		add(s.try(set, p.Drivetrain.Chainrings, cogs))
		for ring := smallestRing; ring <= largestRing; ring += 2 {
			if ring == fitted {
				continue
			}
			add(s.try(fmt.Sprintf("chainring %d, %s", ring, set), []int{ring}, cogs))
		}
	}
	sort.SliceStable(better, func(a, b int) bool { return better[a].BatteryWh < better[b].BatteryWh })
	return append([]Fitting{now}, better[:min(most, len(better))]...)
}

type cell struct {
	seconds                          float64
	speed, wheel, legs, windingC, v0 float64 // means
}

func gather(c *course) []cell {
	type key struct{ speed, power int }
	index := map[key]int{}
	var cells []cell
	for s, ok := range c.claimed {
		if !ok || !c.d.Class[s].Loaded() || math.IsNaN(c.wheel[s]) {
			continue
		}
		k := key{int(c.speed[s] / cellSpeed), int(c.wheel[s] / cellPower)}
		i, seen := index[k]
		if !seen {
			i = len(cells)
			index[k] = i
			cells = append(cells, cell{})
		}
		x := &cells[i]
		x.seconds++
		x.speed += (c.speed[s] - x.speed) / x.seconds
		x.wheel += (c.wheel[s] - x.wheel) / x.seconds
		x.legs += (c.legs[s] - x.legs) / x.seconds
		x.windingC += (c.d.Winding[s] - x.windingC) / x.seconds
		x.v0 += (c.d.OpenCircuit[s] - x.v0) / x.seconds
	}
	return cells
}

type search struct {
	p     *bike.Profile
	unit  drive.Unit
	cells []cell
}

// try takes every cell in the best of the gears: one that holds it before one
// that does not, then legs as near their band as can be, then least energy.
func (s search) try(name string, rings, cogs []int) Fitting {
	other := *s.p
	other.Drivetrain = bike.Drivetrain{Chainrings: rings, Cogs: cogs}
	all := other.Gears()
	f := Fitting{Name: name, Chainrings: rings, Cogs: cogs}
	var joules, seconds, held, legsOut float64
	for _, x := range s.cells {
		best, bestHolds, bestOut := math.Inf(1), false, math.Inf(1)
		for _, g := range all {
			rpm := s.unit.CadenceRPM(x.speed, g)
			out := max(0, s.p.Legs.BandRPM[0]-rpm, rpm-s.p.Legs.BandRPM[1])
			if bestHolds && out > bestOut {
				continue
			}
			pt := s.unit.AtWheel(g, x.speed, x.wheel, x.legs, x.windingC, x.v0)
			holds := pt.Limit == drive.NoLimit
			switch {
			case bestHolds && !holds:
				continue
			case holds && !bestHolds, out < bestOut, out == bestOut && pt.Terminal < best:
				best, bestHolds, bestOut = pt.Terminal, holds, out
			}
		}
		joules += best * x.seconds
		seconds += x.seconds
		if bestHolds {
			held += x.seconds
		}
		if bestOut > 0 {
			legsOut += x.seconds
		}
	}
	f.BatteryWh, f.HeldShare, f.LegsOut = joules/joulesPerWh, held/seconds, legsOut/seconds
	return f
}
