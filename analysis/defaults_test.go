package analysis_test

import (
	"testing"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/lesson"
	"cogledger/analysis/made"
)

// One ride, told on the same numbers twice: typed in for this bike, and left as
// `bike new` writes them. As defaults they must widen what is said of the motor
// several times over, and no advice may rest on them.
func TestDefaultsClaimLess(t *testing.T) {
	text, err := bike.Template(bike.Essentials{NominalV: 48, CapacityWh: 500})
	if err != nil {
		t.Fatal(err)
	}
	untouched, err := bike.Parse(text, "new.yaml")
	if err != nil {
		t.Fatal(err)
	}
	typed := bike.Example()
	r := logged(t, made.Simulate(typed, made.Errand(made.CoastRoad(), 3, 15), made.Lugger(), 3))
	res := map[string]*analysis.Result{}
	for name, p := range map[string]*bike.Profile{"typed": typed, "untouched": untouched} {
		if res[name], err = analysis.Review(r, p, analysis.Options{SkipReplays: true}); err != nil {
			t.Fatal(err)
		}
	}
	a, b := res["typed"].Headline, res["untouched"].Headline
	if a.LuggingLossWh.Value != b.LuggingLossWh.Value {
		t.Fatalf("the same numbers tell %v and %v", a.LuggingLossWh, b.LuggingLossWh)
	}
	if wide, narrow := b.LuggingLossWh.High-b.LuggingLossWh.Low, a.LuggingLossWh.High-a.LuggingLossWh.Low; !(wide > 3*narrow) {
		t.Errorf("lost to lugging: %+v with defaults, %+v with typed values", b.LuggingLossWh, a.LuggingLossWh)
	}
	if wide, narrow := b.WindingPeakC.High-b.WindingPeakC.Low, a.WindingPeakC.High-a.WindingPeakC.Low; !(wide > 2*narrow) {
		t.Errorf("winding: %+v with defaults, %+v with typed values", b.WindingPeakC, a.WindingPeakC)
	}
	// What was measured does not hang on the profile.
	if b.BatteryWh != a.BatteryWh {
		t.Errorf("battery: %+v with defaults, %+v with typed values", b.BatteryWh, a.BatteryWh)
	}
	if worth, known := a.WorthChanging(); !worth || !known {
		t.Errorf("with typed values: worth %v, known %v", worth, known)
	}
	if worth, known := b.WorthChanging(); worth || known {
		t.Errorf("with defaults: worth %v, known %v", worth, known)
	}
	set := analysis.Together([]*analysis.Result{res["untouched"]})
	if l := lesson.From(set); l.Known() || l.Bears.Cure == "" || len(l.Habits) > 0 {
		t.Errorf("a lesson from defaults: %+v", l)
	}
}
