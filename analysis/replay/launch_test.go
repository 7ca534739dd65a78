package replay

import (
	"math"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/shifts"
)

// TestLaunchKeepsTheStartPowerForm checks a start under constant pull, without
// a road, against EN 15194, Annex D (form as given by a secondary source): mean
// power P = 2 m D²/t³ over distance D and time t. Under constant acceleration
// that is half of m v² over t, and the pull times D over t. Its worked case, 150 kg
// over 20 m in 6.0 s, gives 555.6 W.
func TestLaunchKeepsTheStartPowerForm(t *testing.T) {
	form := func(mass, metres, seconds float64) float64 { return 2 * mass * metres * metres / math.Pow(seconds, 3) }
	if got := form(150, 20, 6); math.Abs(got-555.6) > 0.05 {
		t.Errorf("the form gives %g W", got)
	}
	p := bike.Example()
	p.Road = bike.Road{CdA: 1e-9, Crr: 1e-9}
	p.Motor.Inertia = 0
	p.Motor.PhaseCurrentLimit = 10 // so little that nothing else limits it up to 15 km/h
	g := p.Gears()[4]
	run, err := Launch(p, g, LaunchOptions{LegsNm: 1e-9})
	if err != nil {
		t.Fatal(err)
	}
	if run.Limit != drive.PhaseLimit {
		t.Fatalf("limited by %v", run.Limit)
	}
	want := form(p.Mass.Total(), run.Metres, run.To15)
	got := run.PullN * run.Metres / run.To15
	// Bearings and the drag that grows with speed take a little off.
	if math.Abs(got/want-1) > 0.04 {
		t.Errorf("pull gives %g W, the form %g W", got, want)
	}
	kinetic := p.Mass.Total() * shifts.StartedMPS * shifts.StartedMPS / 2 / run.To15
	if math.Abs(kinetic/want-1) > 0.02 {
		t.Errorf("kinetic %g W, the form %g W", kinetic, want)
	}
}

// TestFirstGearPullsHardest: common practice of the trade, and so it must be
// with one ratio behind a motor limited in current.
func TestFirstGearPullsHardest(t *testing.T) {
	p := bike.Example()
	for _, grade := range []float64{0, 0.06, 0.12} {
		last := LaunchRun{PullN: math.Inf(1), Accel: math.Inf(1)}
		for _, g := range p.Gears() {
			run, err := Launch(p, g, LaunchOptions{Grade: grade})
			if err != nil {
				t.Fatal(err)
			}
			if run.PullN >= last.PullN || run.Accel > last.Accel {
				t.Errorf("grade %g: %v pulls %.0f N and gains %.2f m/s², the gear below it %.0f N and %.2f", grade, g, run.PullN, run.Accel, last.PullN, last.Accel)
			}
			if grade == 0 && !(run.To15 > 0 && run.Joules > run.CopperJ && run.CopperJ > 0 && run.Metres > 0) {
				t.Errorf("%+v", run)
			}
			last = run
		}
	}
	steep, err := Launch(p, p.Gears()[9], LaunchOptions{Grade: 0.4})
	if err != nil || steep.Accel != 0 || !math.IsNaN(steep.To15) {
		t.Errorf("a wall in the tallest gear: %+v, %v", steep, err)
	}
	if _, err := Launch(p, bike.Gear{}, LaunchOptions{}); err == nil {
		t.Error("a gear without a ratio starts")
	}
}
