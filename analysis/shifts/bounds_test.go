package shifts

import (
	"math"
	"testing"

	"cogledger/analysis/doubt"
)

// What divides by the little that is left over is bounded or unknown.
func TestSmallDivisors(t *testing.T) {
	for _, c := range []struct {
		over, cost float64
		known      bool
	}{{100, 10, true}, {100, 94, true}, {100, 99.999999, false}, {100, 100, false}, {0, 0, false}, {math.NaN(), 1, false}} {
		h := Habit{OverWh: c.over, OverKm: 10, Cost: doubt.Figure{Value: c.cost}}
		if km := h.rangeKm(500); math.IsNaN(km) == c.known || km > 1000 {
			t.Errorf("%g Wh of %g: %g km farther", c.cost, c.over, km)
		}
	}
	h := &Habit{Seconds: []int{0}, Ends: []int{10}}
	low, high := spread(h, []Moment{
		{From: 0, To: 3, Saving: doubt.Figure{Value: 1, Low: 0.5, High: 1.5}},
		{From: 5, To: 9, Saving: doubt.Figure{Value: -1 + 1e-12, Low: -1.5, High: -0.5}},
	})
	if low != -mostSpread || high != mostSpread {
		t.Errorf("savings that cancel out spread from %g to %g", low, high)
	}
}
