package report

import (
	"fmt"
	"math"
	"slices"
)

// A motorMap counts the loaded seconds by motor speed and shaft power, and
// holds the efficient band that belongs to each power.
type motorMap struct {
	why        string
	rpm, power scale     // step is the width of a cell
	seconds    [][]int   // [power row][rpm column]
	low, high  []float64 // rpm of the band by power row, NaN where never there
	most       int
}

const rpmPerRadPerS = 60 / (2 * math.Pi)

// motorMap fills the map from the seconds in which the motor was loaded.
func (v *view) motorMap() motorMap {
	var m motorMap
	d := v.Drive
	loaded := func(i int) bool {
		return finite(valueAt(d.MotorSpeed, i)) && valueAt(d.Shaft, i) >= 15
	}
	topRPM, topW, bandRPM, any := 0.0, 0.0, 0.0, false
	for i := range d.MotorSpeed {
		if loaded(i) {
			topRPM, topW, any = max(topRPM, d.MotorSpeed[i]*rpmPerRadPerS), max(topW, d.Shaft[i]), true
			if high := valueAt(d.BandHigh, i) * rpmPerRadPerS; high > bandRPM {
				bandRPM = high
			}
		}
	}
	if !any {
		m.why = v.whyNoMotor()
		if anyFinite(d.Shaft) {
			m.why = "the motor never gave 15 W or more"
		}
		return m
	}
	topRPM = max(topRPM, min(bandRPM*1.03, topRPM*1.3)) // room for the band's upper edge
	m.rpm, m.power = niceScale(0, topRPM, 48), niceScale(0, topW, 22)
	columns, rows := int(math.Round(m.rpm.high/m.rpm.step)), int(math.Round(m.power.high/m.power.step))
	m.seconds = make([][]int, rows)
	lows, highs := make([][]float64, rows), make([][]float64, rows)
	for r := range m.seconds {
		m.seconds[r] = make([]int, columns)
	}
	for i := range d.MotorSpeed {
		if !loaded(i) {
			continue
		}
		r := min(rows-1, int(d.Shaft[i]/m.power.step))
		c := min(columns-1, int(d.MotorSpeed[i]*rpmPerRadPerS/m.rpm.step))
		m.seconds[r][c]++
		m.most = max(m.most, m.seconds[r][c])
		if low, high := valueAt(d.BandLow, i), valueAt(d.BandHigh, i); finite(low) && finite(high) {
			lows[r], highs[r] = append(lows[r], low*rpmPerRadPerS), append(highs[r], high*rpmPerRadPerS)
		}
	}
	for r := range rows {
		m.low, m.high = append(m.low, median(lows[r])), append(m.high, median(highs[r]))
	}
	return m
}

func median(values []float64) float64 {
	if len(values) == 0 {
		return nan()
	}
	slices.Sort(values)
	return values[len(values)/2]
}

// share is how dark a cell is drawn: the root of its time over the longest, so
// that short visits are still seen.
func (m motorMap) share(seconds int) float64 {
	return math.Sqrt(float64(seconds) / float64(m.most))
}

// cell words one cell of the map.
func (m motorMap) cell(r, c int) string {
	return fmt.Sprintf("%s at %s to %s and %s to %s", span(m.seconds[r][c]),
		grouped(float64(c)*m.rpm.step, 0), number(float64(c+1)*m.rpm.step, 0, "rpm"),
		grouped(float64(r)*m.power.step, 0), number(float64(r+1)*m.power.step, 0, "W"))
}

// heat is the map as a drawing of cells, with the band's edges over it.
func (m motorMap) heat() heat {
	h := heat{
		x: m.rpm, y: m.power, xMarks: niceScale(0, m.rpm.high, 8), yMarks: niceScale(0, m.power.high, 6),
		xUnit: "motor speed, rpm", yUnit: "W", word: m.cell, edges: [2][]float64{m.low, m.high},
	}
	for _, row := range m.seconds {
		level := make([]float64, len(row))
		for c, s := range row {
			level[c] = nan()
			if s > 0 {
				level[c] = m.share(s)
			}
		}
		h.level = append(h.level, level)
	}
	return h
}
