package drive_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/road"
)

// Whatever RestsOn calls idle leaves every column and the matrix as they were.
func TestRestsOnLeavesNothingOut(t *testing.T) {
	for _, write := range []log{{battery: true}, {motorPower: true}, {}} {
		p := bike.Example()
		m := makeRide(rand.New(rand.NewPCG(6, 6)), p, 700, write)
		run := func(p *bike.Profile) (*drive.Series, *drive.Matrix) {
			rd := road.Load(m.ride, p, road.Options{})
			d := drive.Run(m.ride, p, m.gears, rd, drive.Options{})
			return d, drive.Alternatives(m.ride, p, m.gears, rd, d)
		}
		d, every := run(p)
		idle, all := 0, bike.Numbers()
		for _, n := range all {
			if d.RestsOn(n.Key) {
				continue
			}
			idle++
			other, changed := run(p.Scaled(n.Key, 1.3))
			for i := range d.Terminal {
				if !same(d.Terminal[i], other.Terminal[i]) || !same(d.Copper[i], other.Copper[i]) || !same(d.Winding[i], other.Winding[i]) || d.Class[i] != other.Class[i] {
					t.Fatalf("%v: %s moves second %d", d.Knowledge, n.Key, i)
				}
			}
			for k := range every.Terminal {
				if !same(float64(every.Terminal[k]), float64(changed.Terminal[k])) || every.Limits[k] != changed.Limits[k] {
					t.Fatalf("%v: %s moves the matrix", d.Knowledge, n.Key)
				}
			}
		}
		if idle < 5 || idle > len(all)-10 {
			t.Errorf("%v: %d of %d numbers are idle", d.Knowledge, idle, len(all))
		}
	}
}

func same(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }
