package fleet

import (
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"

	"cogledger/analysis/fleet"
)

const rangeWidth, rangeHeight = 120.0, 14.0

// drawRange draws a number with its range from 0 to top, and a mark across.
// The script draws the same.
func drawRange(r ranged, top, mark float64) template.HTML {
	if !finite(r.Value) || !(top > 0) {
		return ""
	}
	x := func(v float64) string { return px(2 + (rangeWidth-4)*min(max(v/top, 0), 1)) }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="range" viewBox="0 0 %s %s" aria-hidden="true">`, px(rangeWidth), px(rangeHeight))
	if mark > 0 {
		fmt.Fprintf(&b, `<path class="typical" d="M%s 0V%s"/>`, x(mark), px(rangeHeight))
	}
	if finite(r.Low) && finite(r.High) {
		fmt.Fprintf(&b, `<path class="span" d="M%s 7H%s"/>`, x(r.Low), x(r.High))
	}
	fmt.Fprintf(&b, `<circle class="dot" cx="%s" cy="7" r="3"/></svg>`, x(r.Value))
	return template.HTML(b.String())
}

// drawTrend draws the loss a kilometre over time with its range.
func drawTrend(t fleet.Trend) template.HTML {
	var points []fleet.TrendPoint
	top := 0.0
	for _, p := range t.Points {
		if finite(p.LossPerKm.Value) {
			points = append(points, p)
			top = max(top, p.LossPerKm.Value)
			if finite(p.LossPerKm.High) {
				top = max(top, min(p.LossPerKm.High, 2*p.LossPerKm.Value))
			}
		}
	}
	if len(points) < 2 || top == 0 {
		return ""
	}
	const width, height, left, right, above, below = 720.0, 220.0, 46.0, 26.0, 12.0, 26.0
	step := nice(top / 4)
	top = math.Ceil(top/step) * step
	first, last := points[0].From, points[len(points)-1].From
	x := func(p fleet.TrendPoint) float64 {
		return left + (width-left-right)*p.From.Sub(first).Hours()/max(last.Sub(first).Hours(), 1)
	}
	y := func(v float64) float64 { return above + (height-above-below)*(1-min(max(v/top, 0), 1)) }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="trend" viewBox="0 0 %s %s" role="img" aria-label="Energy lost to lugging a kilometre over time, from %s to %s Wh/km">`, px(width), px(height), shown(points[0].LossPerKm.Value, 3), shown(points[len(points)-1].LossPerKm.Value, 3))
	digits := max(0, int(math.Ceil(-math.Log10(step))))
	for v := 0.0; v <= top+step/2; v += step {
		fmt.Fprintf(&b, `<path class="rule" d="M%s %sH%s"/><text class="tick end" x="%s" y="%s">%s</text>`, px(left), px(y(v)), px(width-right), px(left-6), px(y(v)+4), shown(v, digits))
	}
	var line strings.Builder
	every := max(1, (len(points)+7)/8)
	for i, p := range points {
		c := "L"
		if i == 0 {
			c = "M"
		}
		fmt.Fprintf(&line, "%s%s %s", c, px(x(p)), px(y(p.LossPerKm.Value)))
		if finite(p.LossPerKm.Low) && finite(p.LossPerKm.High) {
			fmt.Fprintf(&b, `<path class="span" d="M%s %sV%s"/>`, px(x(p)), px(y(p.LossPerKm.Low)), px(y(p.LossPerKm.High)))
		}
		if i%every == 0 {
			fmt.Fprintf(&b, `<text class="tick mid" x="%s" y="%s">%s</text>`, px(x(p)), px(height-8), p.From.Format("2 Jan"))
		}
	}
	fmt.Fprintf(&b, `<path class="course" d="%s"/>`, line.String())
	for _, p := range points {
		fmt.Fprintf(&b, `<circle class="dot" cx="%s" cy="%s" r="3"/>`, px(x(p)), px(y(p.LossPerKm.Value)))
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

// drawMap draws the places in their true proportions, each as an arrow in the
// direction of travel, the larger the dearer.
func drawMap(places []fleet.Place) template.HTML {
	places = places[:min(len(places), mostPlaces)]
	if len(places) == 0 {
		return ""
	}
	south, north, west, east := 90.0, -90.0, 180.0, -180.0
	most := 0.0
	for _, p := range places {
		south, north = min(south, p.Lat), max(north, p.Lat)
		west, east = min(west, p.Lon), max(east, p.Lon)
		most = max(most, p.LossWh)
	}
	const kmPerDegree = 111.195
	narrow := math.Cos((south + north) / 2 * math.Pi / 180)
	wide, high := max((east-west)*narrow*kmPerDegree, 0.5), max((north-south)*kmPerDegree, 0.5)
	const width, margin = 720.0, 34.0
	scale := (width - 2*margin) / max(wide, high/0.8)
	height := high*scale + 2*margin
	x := func(lon float64) float64 { return width/2 + (lon-(west+east)/2)*narrow*kmPerDegree*scale }
	y := func(lat float64) float64 { return height/2 - (lat-(south+north)/2)*kmPerDegree*scale }
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="map" viewBox="0 0 %s %s" role="img" aria-label="%s"><g class="ground">`, px(width), px(height), template.HTMLEscapeString(fmt.Sprintf("Map of %d places; the table lists them", len(places))))
	for i := len(places) - 1; i >= 0; i-- { // the dearest on top
		p := places[i]
		size := 5 + 13*math.Sqrt(max(p.LossWh, 0)/max(most, 1e-9))
		class := "place"
		if p.Verdict == fleet.StandsOut {
			class = "place out"
		}
		if p.Direction < 0 {
			fmt.Fprintf(&b, `<circle class="%s" cx="%s" cy="%s" r="%s"/>`, class, px(x(p.Lon)), px(y(p.Lat)), px(size*0.6))
		} else {
			fmt.Fprintf(&b, `<path class="%s" d="%s"/>`, class, arrow(x(p.Lon), y(p.Lat), size, float64(p.Direction)*45))
		}
	}
	for i, p := range places {
		if i < 10 {
			fmt.Fprintf(&b, `<text class="place-number" x="%s" y="%s">%d</text>`, px(x(p.Lon)+12), px(y(p.Lat)-8), i+1)
		}
	}
	bar := nice(wide / 5)
	fmt.Fprintf(&b, `</g><path class="bar" d="M%s %sh%s"/><text class="tick" x="%s" y="%s">%s km, north is up</text></svg>`, px(margin), px(height-8), px(bar*scale), px(margin+bar*scale+8), px(height-4), strconv.FormatFloat(bar, 'g', 3, 64))
	return template.HTML(b.String())
}

// arrow is the path of an arrowhead that points to a bearing in degrees.
func arrow(x, y, size, bearing float64) string {
	sin, cos := math.Sincos(bearing * math.Pi / 180)
	at := func(ahead, right float64) string {
		return px(x+ahead*sin+right*cos) + " " + px(y-ahead*cos+right*sin)
	}
	return "M" + at(size, 0) + "L" + at(-0.7*size, 0.62*size) + "L" + at(-0.3*size, 0) + "L" + at(-0.7*size, -0.62*size) + "Z"
}

// nice rounds a step up to 1, 2 or 5 times a power of ten.
func nice(v float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(v)))
	for _, f := range []float64{1, 2, 5, 10} {
		if f*power >= v*0.999 {
			return f * power
		}
	}
	return v
}

// px prints a coordinate with a tenth of a pixel.
func px(v float64) string { return strings.TrimSuffix(strconv.FormatFloat(v, 'f', 1, 64), ".0") }
