package coach

import (
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"math"
	"strconv"
	"strings"

	"cogledger/analysis/doubt"
)

// units words quantities for the reader.
type units struct{ imperial bool }

const mile = 1609.344

func (u units) distance(m float64) string {
	if u.imperial {
		return number(m/mile) + " mi"
	}
	return number(m/1000) + " km"
}

// place is how far along a ride, in the unit that the rider's display counts.
func (u units) place(m float64) string {
	if u.imperial {
		return fmt.Sprintf("mile %.1f", m/mile)
	}
	return fmt.Sprintf("km %.1f", m/1000)
}

// perDistance turns Wh/km into the reader's unit.
func (u units) perDistance(whPerKm float64) (float64, string) {
	if u.imperial {
		return whPerKm * mile / 1000, "Wh a mile"
	}
	return whPerKm, "Wh a km"
}

// number prints about three digits.
func number(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "not known"
	}
	digits := 2
	switch a := math.Abs(v); {
	case a >= 99.5:
		digits = 0
	case a >= 0.995:
		digits = 1
	}
	s := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		s = "0"
	}
	return strings.Replace(s, "-", "−", 1)
}

func percent(share float64) string {
	if math.IsNaN(share) {
		return "not known"
	}
	v := share * 100
	if a := math.Abs(v); a > 0 && a < 9.95 {
		return number(math.Round(v*10)/10) + " %"
	}
	return strings.Replace(strconv.FormatFloat(math.Round(v), 'f', 0, 64), "-", "−", 1) + " %"
}

// between words an interval, empty where none is known.
func between(f doubt.Figure, print func(float64) string) string {
	if math.IsNaN(f.Low) || math.IsNaN(f.High) || f.Low == f.High {
		return ""
	}
	return print(f.Low) + " to " + print(f.High)
}

// rounded prints a figure and its interval with as many decimals as the
// interval's width has a meaning for, at most two.
func rounded(f doubt.Figure, print func(v float64, digits int) string) string {
	width := f.High - f.Low
	if math.IsNaN(width) || width <= 0 {
		return print(f.Value, 1)
	}
	digits := max(0, min(2, int(math.Ceil(-math.Log10(width/2)))))
	low, high := print(f.Low, digits), print(f.High, digits)
	dash := "–"
	if strings.ContainsAny(low+high, "−+") {
		dash = " to "
	}
	return fmt.Sprintf("%s (%s%s%s)", print(f.Value, digits), low, dash, high)
}

// fixed prints a number with that many decimals and a true minus sign.
func fixed(v float64, digits int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "not known"
	}
	s := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}

func times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return strconv.Itoa(n) + " times"
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// policy lets the page use its own style and nothing else.
func policy(style string) string {
	digest := sha256.Sum256([]byte(style))
	return "default-src 'none'; style-src 'sha256-" + base64.StdEncoding.EncodeToString(digest[:]) + "'; base-uri 'none'; form-action 'none'"
}
