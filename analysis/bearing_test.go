package analysis

import (
	"math"
	"testing"

	"cogledger/analysis/doubt"
	"cogledger/analysis/shifts"
)

// Habits are told dearest first, and only what the data carry, doubt leaves and
// is worth a word.
func TestAdvised(t *testing.T) {
	h := func(cost, low float64, carried bool) shifts.Habit {
		return shifts.Habit{Count: 3, Carried: carried, Cost: doubt.Figure{Value: cost, Low: low, High: cost + 1}}
	}
	list := []shifts.Habit{h(1, 0.5, true), h(3, 2, true), h(9, -1, true), h(5, 4, false), h(math.NaN(), math.NaN(), true), h(0.04, 0.03, true)}
	rich := Headline{BatteryWh: doubt.Figure{Value: 100}, LuggingLossWh: doubt.Figure{Value: 5, Low: 4, High: 6}}
	got := Advised(list, rich)
	if len(got) != 2 || got[0].Cost.Value != 3 || got[1].Cost.Value != 1 {
		t.Errorf("%+v", got)
	}
	poor := rich
	poor.BatteryWh.Value = 1000 // half a per cent is lost
	if got := Advised(list, poor); len(got) != 0 {
		t.Errorf("advice where nothing is worth changing: %+v", got)
	}
}
