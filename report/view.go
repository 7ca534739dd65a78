package report

import (
	"fmt"
	"math"
	"sort"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/road"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

// hiddenMetres is how much of a ride's two ends a private report leaves out.
const hiddenMetres = 500

// mostSpots is how many spots are numbered on map and strip.
const mostSpots = 12

// A view is one ride as the report may show it: the result, and what of it is
// left out for privacy.
type view struct {
	*analysis.Result
	number   int    // from 1, in order of time
	id       string // anchor prefix, "r1"
	name     string // heading, from the log or "Ride 1"
	gears    []bike.Gear
	from, to int    // seconds shown, [from, to)
	veiled   []bool // positions not shown; nil when all are
	spots    []spot // advised moments, dearest first
	private  bool
	imperial bool
}

// A spot is a moment with the number that it has in the advice, on the map and
// on the strip.
type spot struct {
	shifts.Moment
	number int
	anchor string
}

// views prepares every ride of a set.
func views(set *analysis.Set, o Options) []*view {
	ends := homes(set, o.Privacy)
	var all []*view
	for i, res := range set.Rides {
		all = append(all, newView(res, i+1, len(set.Rides), ends, o))
	}
	return all
}

func newView(res *analysis.Result, number, of int, ends [][2]float64, o Options) *view {
	whole := *res
	if whole.Gears == nil {
		whole.Gears = &gears.Inference{}
	}
	if whole.Road == nil {
		whole.Road = &road.Series{}
	}
	if whole.Drive == nil {
		whole.Drive = &drive.Series{Knowledge: drive.FromRoad}
	}
	if !finite(whole.Headline.BatteryWh.Value) {
		whole.Replays = nil // without the ride's own energy there is nothing to replay
	}
	v := &view{Result: &whole, number: number, id: fmt.Sprintf("r%d", number), name: res.Ride.Name, to: res.Ride.Len(), private: o.Privacy, imperial: o.Imperial}
	if res.Bike != nil {
		v.gears = res.Bike.Gears()
	}
	if o.Privacy || v.name == "" {
		v.name = "Ride"
		if of > 1 {
			v.name = fmt.Sprintf("Ride %d", number)
		}
	}
	if o.Privacy {
		v.cutEnds()
		v.veil(ends)
	}
	v.numberSpots()
	return v
}

// cutEnds narrows the seconds shown to those between the first and the last
// 500 m; nothing is left of a ride shorter than that, or of one without
// distance.
func (v *view) cutEnds() {
	d := v.Road.Distance
	if len(d) == 0 {
		v.from, v.to = 0, 0
		return
	}
	end := d[len(d)-1]
	v.from = sort.Search(len(d), func(i int) bool { return d[i] >= hiddenMetres })
	v.to = sort.Search(len(d), func(i int) bool { return d[i] > end-hiddenMetres })
	if v.to < v.from {
		v.from, v.to = 0, 0
	}
}

// veil hides positions near any ride's start or end, also where the ride only
// passes by.
func (v *view) veil(ends [][2]float64) {
	lat, lon := v.Ride.Column(ride.Latitude), v.Ride.Column(ride.Longitude)
	if lat == nil || lon == nil {
		return
	}
	v.veiled = make([]bool, len(lat))
	for i := range lat {
		for _, home := range ends {
			v.veiled[i] = v.veiled[i] || metresApart(lat[i], lon[i], home[0], home[1]) < hiddenMetres
		}
	}
}

// homes lists where rides start and end; nil unless they are to be hidden.
func homes(set *analysis.Set, private bool) [][2]float64 {
	if !private {
		return nil
	}
	var ends [][2]float64
	for _, res := range set.Rides {
		lat, lon := res.Ride.Column(ride.Latitude), res.Ride.Column(ride.Longitude)
		first, last := -1, -1
		for i := range lat {
			if finite(lat[i]) && i < len(lon) && finite(lon[i]) {
				if first < 0 {
					first = i
				}
				last = i
			}
		}
		if first >= 0 {
			ends = append(ends, [2]float64{lat[first], lon[first]}, [2]float64{lat[last], lon[last]})
		}
	}
	return ends
}

// metresApart is a plane distance, good to 1 % over the few hundred metres it
// is used for.
func metresApart(lat1, lon1, lat2, lon2 float64) float64 {
	const perDegree = 111_195
	return perDegree * math.Hypot(lat1-lat2, (lon1-lon2)*math.Cos(lat2*math.Pi/180))
}

// position is where the bike was at second i, NaN where unknown or hidden.
func (v *view) position(i int) (lat, lon float64) {
	if i < v.from || i >= v.to || i < len(v.veiled) && v.veiled[i] {
		return math.NaN(), math.NaN()
	}
	return v.Ride.At(ride.Latitude, i), v.Ride.At(ride.Longitude, i)
}

// shows reports whether second i may be shown.
func (v *view) shows(i int) bool { return i >= v.from && i < v.to }

// numberSpots numbers the advised moments that may be shown, dearest first.
func (v *view) numberSpots() {
	for _, m := range v.Moments {
		if m.Advised && v.shows(m.From) && v.shows(m.To-1) {
			v.spots = append(v.spots, spot{Moment: m})
		}
	}
	sort.SliceStable(v.spots, func(a, b int) bool { return v.spots[a].Saving.Value > v.spots[b].Saving.Value })
	for k := range v.spots {
		v.spots[k].number = k + 1
		v.spots[k].anchor = fmt.Sprintf("%s-spot-%d", v.id, k+1)
	}
}

// gear names a gear index.
func (v *view) gear(index int) string {
	if index < 0 || index >= len(v.gears) {
		return unknown
	}
	return v.gears[index].String()
}

// class is how the motor ran at second i.
func (v *view) class(i int) drive.Class {
	if i < 0 || i >= len(v.Drive.Class) {
		return drive.Unclassed
	}
	return v.Drive.Class[i]
}

// A run is a stretch of one class.
type run struct {
	class    drive.Class
	from, to int // [from, to)
}

// runs cuts the shown seconds into stretches of one class. With more than
// limit of them the ride is cut into limit equal pieces, each in the class that
// fills most of it, lugging first among equals.
func (v *view) runs(limit int) []run {
	runs := v.joined(1)
	if len(runs) > limit {
		runs = v.joined(max(2, (v.to-v.from+limit-1)/limit))
	}
	return runs
}

func (v *view) joined(step int) []run {
	var runs []run
	for i := v.from; i < v.to; i += step {
		end := min(i+step, v.to)
		c := v.class(i)
		if step > 1 {
			c = v.mostOf(i, end)
		}
		if k := len(runs) - 1; k >= 0 && runs[k].class == c {
			runs[k].to = end
		} else {
			runs = append(runs, run{c, i, end})
		}
	}
	return runs
}

func (v *view) mostOf(from, to int) drive.Class {
	var count [drive.ClassCount]int
	for i := from; i < to; i++ {
		count[v.class(i)]++
	}
	best := drive.Lugging
	for c := range drive.ClassCount {
		if count[c] > count[best] {
			best = c
		}
	}
	return best
}

// made reports whether any of the ride's logs says that it was simulated.
func (v *view) made() bool {
	for _, s := range v.Ride.Sources {
		if s.Made {
			return true
		}
	}
	return false
}
