// Package digits prints numbers as every page of this project shows them.
package digits

import (
	"math"
	"strconv"
	"strings"
)

// Grouped prints a finite number with a true minus sign, which a value that
// rounds to nothing has not, and with thin spaces between the thousands of five
// digits and more.
func Grouped(v float64, decimals int) string {
	s := strconv.FormatFloat(math.Abs(v), 'f', decimals, 64)
	whole, fraction, _ := strings.Cut(s, ".")
	var b strings.Builder
	if v < 0 && strings.Trim(s, "0.") != "" {
		b.WriteString("−")
	}
	for i, d := range whole {
		if i > 0 && (len(whole)-i)%3 == 0 && len(whole) > 4 {
			b.WriteString("\u202f")
		}
		b.WriteRune(d)
	}
	if fraction != "" {
		b.WriteString("." + fraction)
	}
	return b.String()
}
