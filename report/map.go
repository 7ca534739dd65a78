package report

import (
	"encoding/json"
	"fmt"
	"html/template"
	"math"

	"cogledger/analysis/drive"
)

// A chartMap is the ride seen from above, in the units of its drawing. It is
// drawn from the ride's own positions: no map data, no network.
type chartMap struct {
	why     string
	seconds []int
	x, y    []float64 // drawing units, NaN where unknown or hidden
	width   float64
	height  float64
	perKm   float64 // drawing units a kilometre
}

const mapPadding = 18.0

// course projects the ride on a plane. A local equirectangular projection
// keeps shapes to within 0.1 % over the few tens of kilometres of a ride.
func (v *view) course() chartMap {
	m := chartMap{width: 480}
	lat, lon := make([]float64, v.Ride.Len()), make([]float64, v.Ride.Len())
	for i := range lat {
		lat[i], lon[i] = v.position(i)
	}
	south, north := extent(lat, 0, len(lat))
	west, east := extent(lon, 0, len(lon))
	if !finite(south) || !finite(west) {
		m.why = "the log has no positions"
		if v.private {
			m.why = "the log has no positions, or none far enough from the ride's ends to be shown"
		}
		return m
	}
	across := math.Cos((south + north) / 2 * math.Pi / 180)
	wide, high := (east-west)*across, north-south
	side := math.Max(wide, high*480/420)
	if side == 0 {
		side = 1e-4
	}
	unit := (m.width - 2*mapPadding) / math.Max(side, high*1e-9)
	m.height = math.Max(140, high*unit+2*mapPadding+14)
	m.perKm = unit / 111.195
	left := (m.width - wide*unit) / 2
	m.seconds = thin(v.from, v.to, 4000, lat, lon)
	for _, s := range m.seconds {
		m.x = append(m.x, left+(lon[s]-west)*across*unit)
		m.y = append(m.y, mapPadding+(north-lat[s])*unit)
	}
	return m
}

// draw puts the course on paper: one path a class, told apart by colour, width
// and dashes, the numbered spots on top.
func (m chartMap) draw(v *view) template.HTML {
	d := newDrawing(m.width, m.height, "map", "The ride from above, north up. The list of places below names the numbered spots.")
	all, link := trail{}, trail{}
	for k := range m.seconds {
		all.to(m.x[k], m.y[k])
		if finite(m.x[k]) {
			link.to(m.x[k], m.y[k])
		}
	}
	d.path("course-link", link.data()) // across gaps of the log
	d.path("course-ground", all.data())
	order := []drive.Class{drive.Unclassed, drive.Stopped, drive.Coasting, drive.Resting, drive.InBand, drive.SpinningOut, drive.Lugging}
	for _, class := range order {
		t := trail{}
		for k := range m.seconds {
			inClass := v.class(m.seconds[k]) == class
			if inClass || k > 0 && v.class(m.seconds[k-1]) == class {
				t.to(m.x[k], m.y[k])
			} else {
				t.down = false
			}
		}
		d.path("course course-"+classInk(class), t.data())
		if class == drive.Lugging {
			d.path("course course-lug-core", t.data())
		}
	}
	m.ends(d)
	m.numbers(d, v)
	m.bar(d, v)
	d.b.WriteString(`<circle class="course-here" cx="0" cy="0" r="7"/>`)
	return d.end()
}

func (m chartMap) ends(d *drawing) {
	first, last := -1, -1
	for k := range m.x {
		if finite(m.x[k]) {
			if first < 0 {
				first = k
			}
			last = k
		}
	}
	d.circle("course-end", m.x[last], m.y[last], 4.5)
	d.circle("course-start", m.x[first], m.y[first], 4.5)
}

// numbers places the spots; one that would cover a dearer one is left out.
func (m chartMap) numbers(d *drawing, v *view) {
	var placed [][2]float64
next:
	for _, s := range v.spots {
		if s.number > mostSpots {
			break
		}
		x, y := m.near((s.From + s.To) / 2)
		if !finite(x) {
			continue
		}
		for _, p := range placed {
			if math.Hypot(p[0]-x, p[1]-y) < 17 {
				continue next
			}
		}
		placed = append(placed, [2]float64{x, y})
		d.circle("spot", x, y, 8.5)
		d.text("spot-text mid", x, y+3.9, fmt.Sprint(s.number))
	}
}

// near is the drawn place nearest in time to a second, within half a minute.
func (m chartMap) near(second int) (x, y float64) {
	best, away := -1, 31
	for k, s := range m.seconds {
		if d := max(s-second, second-s); finite(m.x[k]) && d < away {
			best, away = k, d
		}
	}
	if best < 0 {
		return nan(), nan()
	}
	return m.x[best], m.y[best]
}

// bar is the scale of lengths.
func (m chartMap) bar(d *drawing, v *view) {
	perUnit, unit := m.perKm, "km"
	if v.imperial {
		perUnit, unit = m.perKm*1.609344, "mi"
	}
	length := 0.05
	for _, l := range []float64{0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100} {
		if l*perUnit <= m.width/4 {
			length = l
		}
	}
	y := m.height - 8
	d.line("scale-bar", mapPadding, y, mapPadding+length*perUnit, y)
	d.text("tick", mapPadding, y-5, number(length, markDigits(length), unit))
	d.text("tick end", m.width-mapPadding, y, "north is up")
}

// places is the course for the cursor: seconds and drawing coordinates.
func (m chartMap) places() ([]byte, error) {
	round := func(column []float64) json.RawMessage {
		b := []byte{'['}
		for k, v := range column {
			if k > 0 {
				b = append(b, ',')
			}
			b = appendNumber(b, v, 1)
		}
		return append(b, ']')
	}
	return json.Marshal(map[string]any{"t": m.seconds, "x": round(m.x), "y": round(m.y)})
}
