package digits

import "testing"

func TestGrouped(t *testing.T) {
	for _, c := range []struct {
		v        float64
		decimals int
		want     string
	}{
		{0, 0, "0"}, {1234, 0, "1234"}, {12345, 0, "12\u202f345"}, {-1234567.891, 2, "−1\u202f234\u202f567.89"},
		{-0.004, 2, "0.00"}, {-0.006, 2, "−0.01"}, {9999.96, 1, "10\u202f000.0"},
	} {
		if got := Grouped(c.v, c.decimals); got != c.want {
			t.Errorf("Grouped(%v, %d) = %q, want %q", c.v, c.decimals, got, c.want)
		}
	}
}
