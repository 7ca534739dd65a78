package drive_test

import (
	"math"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
)

func grid(from, to float64, n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = from + (to-from)*float64(i)/float64(n-1)
	}
	return x
}

// The band that the curve states is where the curve itself lies within three
// points of its top, at every power, and it moves up with power.
func TestEfficiencyCurvesShowTheirBand(t *testing.T) {
	u := drive.NewUnit(bike.Example())
	last := 0.0
	for _, c := range u.EfficiencyCurves([]float64{50, 100, 200, 400}, grid(20, 500, 481), 60) {
		for _, e := range c.Efficiency {
			if e > c.Band.Efficiency+1e-9 {
				t.Errorf("%g W: %g is above the band's best, %g", c.ShaftW, e, c.Band.Efficiency)
			}
		}
		for k, w := range c.Speed {
			inside := w > c.Band.Low+1 && w < c.Band.High-1
			if inside && !(c.Efficiency[k] >= c.Band.Efficiency-drive.BandPoints) {
				t.Errorf("%g W at %g rad/s: %g inside the band", c.ShaftW, w, c.Efficiency[k])
			}
		}
		if c.Band.Best <= last {
			t.Errorf("the best speed does not grow with power: %g after %g", c.Band.Best, last)
		}
		last = c.Band.Best
	}
}

// COMMON PRACTICE: a motor has one point of best efficiency, and too slow or
// too fast is worse.
func TestEfficiencyMapHasOneHill(t *testing.T) {
	u := drive.NewUnit(bike.Example())
	m := u.EfficiencyMap(grid(5, 480, 96), grid(0.05, 2, 40), 60)
	for i, row := range m.Efficiency {
		falling := false
		for k := 1; k < len(row); k++ {
			if math.IsNaN(row[k]) || math.IsNaN(row[k-1]) {
				continue
			}
			if row[k] < row[k-1]-1e-12 {
				falling = true
			} else if falling && row[k] > row[k-1]+1e-12 {
				t.Fatalf("at %g N m a second hill at %g rad/s", m.Torque[i], m.Speed[k])
			}
		}
	}
}

// COMMON PRACTICE: first gear pulls hardest from a stand, top gear least; a hub
// motor has one pull for all.
func TestPullFallsFromGearToGear(t *testing.T) {
	speeds := grid(0, 9, 91)
	mid := drive.Pull(bike.Example(), 40, speeds)
	for k := 1; k < len(mid); k++ {
		if mid[k].Force[0] >= mid[k-1].Force[0] || mid[k].Accel[0] >= mid[k-1].Accel[0] {
			t.Errorf("%v pulls %g N from a stand, %v %g N", mid[k].Gear, mid[k].Force[0], mid[k-1].Gear, mid[k-1].Force[0])
		}
	}
	// By hand, first gear: the phase limit's torque less drag, times reduction,
	// gear and chain.
	p := bike.Example()
	g := p.Gears()[0]
	motor := (45*0.095 - 0.03) * 0.95 * 36
	want := (motor + 40) / (p.Circumference() * g.Ratio / (2 * math.Pi)) * 0.986
	if math.Abs(mid[0].Force[0]-want) > 0.01*want {
		t.Errorf("first gear pulls %g N, by hand %g N", mid[0].Force[0], want)
	}
	hub := drive.Pull(hubBike(5), 0, speeds)
	for k := range hub {
		if hub[k].Force[0] != hub[0].Force[0] {
			t.Errorf("a hub motor pulls %g N in %v and %g N in %v", hub[k].Force[0], hub[k].Gear, hub[0].Force[0], hub[0].Gear)
		}
	}
	for k, v := range speeds {
		if v > 25/3.6 && hub[0].Force[k] != 0 {
			t.Errorf("a hub motor pulls %g N at %g m/s, above its cut-off", hub[0].Force[k], v)
		}
	}
}

// The line of a grade lies above the flat one by the weight's share.
func TestRoadLines(t *testing.T) {
	p := bike.Example()
	lines := drive.RoadLines(p, []float64{0, 0.08}, grid(0, 9, 10))
	if f := lines[0].Force[0]; math.Abs(f-(0.008*108*9.80665+0.091)) > 1e-6 {
		t.Errorf("%g N hold the bike at a standstill on the flat", f)
	}
	for k := range lines[0].Force {
		rise := lines[1].Force[k] - lines[0].Force[k]
		want := 108 * 9.80665 * math.Sin(math.Atan(0.08))
		if math.Abs(rise-want) > 0.03 { // rolling eases by the cosine
			t.Errorf("8 %% asks %g N more, weight says %g N", rise, want)
		}
	}
}
