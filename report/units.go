package report

import (
	"fmt"
	"math"

	"cogledger/analysis/doubt"
	"cogledger/report/digits"
)

// Unknown is what is printed for a number that nobody knows.
const unknown = "not known"

// A measure turns an SI value into the one the reader sees.
type measure struct {
	unit   string
	factor float64
	offset float64
	digits int // decimals in running text
}

func (m measure) of(si float64) float64 { return si*m.factor + m.offset }

// text is the value with its unit, "not known" when there is none.
func (m measure) text(si float64) string { return number(m.of(si), m.digits, m.unit) }

// bare is the value without its unit; a dash in tables when there is none.
func (m measure) bare(si float64) string { return cellNumber(m.of(si), m.digits) }

// units are the measures of one report.
type units struct {
	distance, height, speed, temperature, perDistance measure
	energy, power, volts, amps, rpm                   measure
}

func newUnits(imperial bool) units {
	u := units{
		distance:    measure{"km", 1e-3, 0, 1},
		height:      measure{"m", 1, 0, 0},
		speed:       measure{"km/h", 3.6, 0, 1},
		temperature: measure{"°C", 1, 0, 0},
		perDistance: measure{"Wh/km", 1, 0, 1},
		energy:      measure{"Wh", 1, 0, 1},
		power:       measure{"W", 1, 0, 0},
		volts:       measure{"V", 1, 0, 1},
		amps:        measure{"A", 1, 0, 1},
		rpm:         measure{"rpm", 1, 0, 0},
	}
	if imperial {
		const mile, foot = 1609.344, 0.3048
		u.distance = measure{"mi", 1 / mile, 0, 1}
		u.height = measure{"ft", 1 / foot, 0, 0}
		u.speed = measure{"mph", 3600 / mile, 0, 1}
		u.temperature = measure{"°F", 1.8, 32, 0}
		u.perDistance = measure{"Wh/mi", mile / 1000, 0, 1}
	}
	return u
}

// km is the distance measure for figures that already are in kilometres.
func (u units) km() measure {
	m := u.distance
	m.factor *= 1000
	return m
}

// number prints a value with its unit, thousands apart, the unit tied to it.
func number(v float64, digits int, unit string) string {
	if !finite(v) {
		return unknown
	}
	s := grouped(v, digits)
	if unit == "" {
		return s
	}
	return s + "\u00a0" + unit
}

func cellNumber(v float64, digits int) string {
	if !finite(v) {
		return "–"
	}
	return grouped(v, digits)
}

// grouped prints with a true minus sign and thin spaces between thousands.
func grouped(v float64, decimals int) string {
	return digits.Grouped(v, decimals)
}

// sensible picks the decimals that show about three digits of a value.
func sensible(v float64) int {
	switch a := math.Abs(v); {
	case !finite(v) || a >= 100:
		return 0
	case a >= 1 || round(a, 1) == round(a, 2):
		return 1
	default:
		return 2
	}
}

func percent(share float64) string {
	v := share * 100
	digits := 0
	if math.Abs(v) < 10 {
		digits = 1
	}
	return number(v, digits, "%")
}

// span prints a length of time as h:mm:ss, or m:ss under an hour.
func span(seconds int) string {
	h, m, s := seconds/3600, seconds/60%60, seconds%60
	if h > 0 {
		return fmt.Sprintf("%d:%02d:%02d", h, m, s)
	}
	return fmt.Sprintf("%d:%02d", m, s)
}

// spanWords prints a length of time in words, for running text.
func spanWords(seconds int) string {
	h, m := seconds/3600, (seconds%3600+30)/60
	if m == 60 {
		h, m = h+1, 0
	}
	switch {
	case seconds < 90:
		return fmt.Sprintf("%d\u00a0s", seconds)
	case h == 0:
		return fmt.Sprintf("%d\u00a0min", m)
	case m == 0:
		return fmt.Sprintf("%d\u00a0h", h)
	default:
		return fmt.Sprintf("%d\u00a0h %d\u00a0min", h, m)
	}
}

// interval words the doubt of a figure, empty where none was computed.
func interval(f doubt.Figure, m measure) string {
	low, high := m.of(f.Low), m.of(f.High)
	if !finite(low) || !finite(high) || f.Low == f.High {
		return ""
	}
	digits := rangeDigits(low, high)
	if m.digits == 0 {
		digits = min(digits, wholeDigits(low, high))
	}
	return fmt.Sprintf("between %s and %s", grouped(low, digits), number(high, digits, m.unit))
}

// rangeDigits are the decimals of both ends of a range: those that suit the
// larger end, and enough to tell the ends apart and the smaller one from zero.
func rangeDigits(low, high float64) int {
	digits := sensible(max(math.Abs(low), math.Abs(high)))
	for digits < 3 && (grouped(low, digits) == grouped(high, digits) || low != 0 && round(low, digits) == 0) {
		digits++
	}
	return digits
}

// wholeDigits is for quantities told in whole numbers: none, unless both ends
// would read the same.
func wholeDigits(low, high float64) int {
	if grouped(low, 0) == grouped(high, 0) {
		return 1
	}
	return 0
}

func round(v float64, digits int) float64 {
	f := math.Pow(10, float64(digits))
	return math.Round(v*f) / f
}

// figure words a number with as many decimals as its interval is told with, so
// that it lies within it, and about three digits where it has none.
func figure(f doubt.Figure, m measure) string {
	v := m.of(f.Value)
	return number(v, figureDigits(f, m), m.unit)
}

func figureDigits(f doubt.Figure, m measure) int {
	low, high := m.of(f.Low), m.of(f.High)
	if !finite(low) || !finite(high) || low == high {
		return sensible(m.of(f.Value))
	}
	return rangeDigits(low, high)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

func nan() float64 { return math.NaN() }
