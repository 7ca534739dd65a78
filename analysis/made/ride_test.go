package made

import (
	"encoding/json"
	"math"
	"reflect"
	"slices"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/ingest/ride"
)

func TestSameSeedSameRide(t *testing.T) {
	p := bike.Example()
	a, b := Week(p, Options{Seed: 11, Rides: 2}), Week(p, Options{Seed: 11, Rides: 2})
	other := Week(p, Options{Seed: 12, Rides: 2})
	for i := range a {
		if !reflect.DeepEqual(a[i].Tracks, b[i].Tracks) || !reflect.DeepEqual(a[i].Truth, b[i].Truth) {
			t.Errorf("%s: one seed made two rides", a[i].Name)
		}
		if reflect.DeepEqual(a[i].Truth.Speed, other[i].Truth.Speed) {
			t.Errorf("%s: two seeds made one ride", a[i].Name)
		}
	}
}

// The gear of the truth, the wheel and the crank must tell one story: with a
// taut chain the crank turns as fast as speed over development.
func TestGearAgreesWithSpeedAndCadence(t *testing.T) {
	for _, r := range Week(bike.Example(), Options{Seed: 3}) {
		tr, ratio := r.Truth, 0.0
		gears := r.Bike.Gears()
		seen := 0
		for i := 1; i < tr.Seconds-1; i++ {
			steady := tr.Pushing[i-1] && tr.Pushing[i] && tr.Pushing[i+1] &&
				tr.Gear[i-1] == tr.Gear[i] && tr.Gear[i+1] == tr.Gear[i] && tr.Speed[i] > 2
			if !steady {
				continue
			}
			development := tr.Speed[i] / (tr.CadenceRPM[i] / 60) / gears[tr.Gear[i]].Ratio
			if ratio == 0 {
				ratio = development
			}
			// Of a second with a shift in its last step or so the mean is mixed.
			if math.Abs(development/ratio-1) < 1e-9 {
				seen++
			} else if math.Abs(development/ratio-1) > 0.6 {
				t.Fatalf("%s, second %d: rollout %.4f m, was %.4f m", r.Name, i, development, ratio)
			}
		}
		if math.Abs(ratio/r.Bike.Circumference()-1) > 0.02 {
			t.Errorf("%s: rollout of %.4f m", r.Name, ratio)
		}
		if seen < tr.Seconds/3 {
			t.Errorf("%s: only %d of %d s with a taut chain", r.Name, seen, tr.Seconds)
		}
	}
}

// Shifts and per-second gears are kept apart; they must agree.
func TestGearsFollowTheShifts(t *testing.T) {
	for _, r := range Week(bike.Example(), Options{Seed: 4}) {
		gear := r.Truth.Gear[0]
		k := 0
		for i := range r.Truth.Seconds {
			for k < len(r.Truth.Shifts) && r.Truth.Shifts[k].At < float64(i)+0.5+1e-6 {
				if r.Truth.Shifts[k].From != gear {
					t.Fatalf("%s: shift %d leaves gear %d, but %d was in", r.Name, k, r.Truth.Shifts[k].From, gear)
				}
				gear = r.Truth.Shifts[k].To
				k++
			}
			if r.Truth.Gear[i] != gear {
				t.Fatalf("%s, second %d: gear %d, by the shifts %d", r.Name, i, r.Truth.Gear[i], gear)
			}
		}
	}
}

// A rider goes up through the gears of two rings without a step down.
func TestLadder(t *testing.T) {
	for _, p := range []*bike.Profile{bike.Example(), ringsBike(), gearHubBike(), oneSpeedBike()} {
		gears := p.Gears()
		rungs := ladder(gears)
		rings := map[int]int{}
		for k, g := range rungs {
			rings[gears[g].Front]++
			if k > 0 && gears[g].Ratio <= gears[rungs[k-1]].Ratio {
				t.Errorf("%v: %v comes after %v", p.Drivetrain, gears[g], gears[rungs[k-1]])
			}
		}
		if len(rings) != len(p.Drivetrain.Chainrings) || gears[rungs[len(rungs)-1]] != gears[len(gears)-1] || rungs[0] != 0 {
			t.Errorf("%v: a ladder of %v", p.Drivetrain, rungs)
		}
	}
}

// What a courier bike of this size is like to ride: common practice.
func TestRealism(t *testing.T) {
	for seed := range uint64(3) {
		for _, r := range Week(bike.Example(), Options{Seed: seed}) {
			tr := r.Truth
			minutes, perKm := float64(tr.Seconds)/60, tr.TerminalWh()/tr.Metres()*1000
			peakC, peakRPM := 0.0, 0.0
			for i := range tr.Seconds {
				peakC, peakRPM = max(peakC, tr.Winding[i]), max(peakRPM, tr.MotorSpeed[i]*60/(2*math.Pi))
			}
			for _, v := range []struct {
				what           string
				got, low, high float64
			}{
				{"minutes", minutes, 13, 55},
				{"Wh/km", perKm, 4, 15},
				{"peak winding °C", peakC, 20, 150},     // in good hands hardly above the air
				{"peak motor rpm", peakRPM, 1800, 4830}, // 48 V / 0.095 V s/rad is 4825 idle
				{"lowest charge", tr.Charge[tr.Seconds-1], 0.05, 1},
				{"mean rider W", tr.Wh(Legs) / minutes * 60, 30, 150},
			} {
				if !(v.got >= v.low && v.got <= v.high) {
					t.Errorf("seed %d, %s: %s %.2f", seed, r.Name, v.what, v.got)
				}
			}
		}
	}
}

func TestHabitsCostWhatTheyShould(t *testing.T) {
	p, road := bike.Example(), CoastRoad()
	sc := Scenario{Course: road.Stretch(1800, 11400), RedShare: 0.4, WindMPS: 2, WindFrom: 90, AirC: 15}
	share := func(rd Rider) float64 {
		tr := Simulate(p, sc, rd, 9).Truth
		return tr.LuggingWh() / tr.TerminalWh()
	}
	lugs, shifts := share(Lugger()), share(Shifter())
	if lugs < 0.015 || shifts > 0.003 {
		t.Errorf("lugging costs the rider who lugs %.2f %%, the one who shifts well %.2f %%", 100*lugs, 100*shifts)
	}
}

// Logged channels hold what their formats can: whole turns a minute, FIT's
// millimetres a second, and so on, and add up to the truth but for the
// sensors' errors.
func TestTracksAreLikeLogs(t *testing.T) {
	for _, r := range Week(bike.Example(), Options{Seed: 6}) {
		head := r.Tracks[0]
		if len(head.Time) != r.Truth.Seconds || !head.Sources[0].Made {
			t.Fatalf("%s: %d samples of %d s, made: %v", r.Name, len(head.Time), r.Truth.Seconds, head.Sources[0].Made)
		}
		for c, unit := range map[ride.Channel]float64{ride.CadenceRPM: 1, ride.RiderPower: 1, ride.Speed: 0.001, ride.Altitude: 0.2, ride.AirTemp: 1} {
			for i, v := range head.Values[c] {
				if math.Abs(v/unit-math.Round(v/unit)) > 1e-6 || math.IsNaN(v) {
					t.Fatalf("%s, %v[%d] = %v", r.Name, c, i, v)
				}
			}
		}
		drive := r.Tracks[len(r.Tracks)-1]
		wh := 0.0
		for i := range drive.Time {
			wh += drive.Values[ride.BatteryVolts][i] * drive.Values[ride.BatteryAmps][i] / 3600
		}
		if len(r.Tracks) == 2 {
			wh /= 5
		}
		if want := r.Truth.TerminalWh(); math.Abs(wh/want-1) > 0.012 {
			t.Errorf("%s: %.2f Wh by volts and amperes, truth %.2f", r.Name, wh, want)
		}
	}
}

// The logged speed trails the truth by one to three seconds.
func TestLoggedSpeedLags(t *testing.T) {
	for seed := range uint64(6) {
		r := Week(bike.Example(), Options{Seed: seed, Rides: 1})[0]
		best, least := 0, math.Inf(1)
		for lag := range 8 {
			sum := 0.0
			for i := lag; i < r.Truth.Seconds; i++ {
				d := r.Tracks[0].Values[ride.Speed][i] - r.Truth.Speed[i-lag]
				sum += d * d
			}
			if sum /= float64(r.Truth.Seconds - lag); sum < least {
				best, least = lag, sum
			}
		}
		if best < 1 || best > 3 {
			t.Errorf("seed %d: speed lags by %d s", seed, best)
		}
	}
}

func TestLoggerHasItsOwnClock(t *testing.T) {
	week := Week(bike.Example(), Options{Seed: 2})
	last := week[len(week)-1]
	if len(last.Tracks) != 2 {
		t.Fatalf("%d tracks", len(last.Tracks))
	}
	log := last.Tracks[1]
	n := len(log.Time)
	near(t, "interval", (log.Time[n-1]-log.Time[0])/float64(n-1), 0.2*(1+LoggerDrift), 1e-6)
	// The first interval kept is that with its middle at 4.1 s of the ride; the
	// head unit's clock is 0 at 0.5 s.
	near(t, "offset", log.Time[0]-3.6*(1+LoggerDrift), LoggerOffsetS, 0.001)
	if last.Tracks[0].Has(ride.BatteryVolts) || !log.Has(ride.BatteryVolts) {
		t.Error("volts belong in the drive's own log alone")
	}
}

func TestPlantedLateShifts(t *testing.T) {
	for seed := range uint64(4) {
		const n = 20
		sc, rd := LateOnRamps(n)
		r := Simulate(bike.Example(), sc, rd, seed)
		late := 0
		for _, p := range r.Truth.Planted {
			if p.Habit == LateDownShift {
				late++
				if p.GearTo >= p.GearFrom || p.To-p.From < 15 || p.To-p.From > 32 {
					t.Errorf("seed %d: planted %+v", seed, p)
				}
			}
		}
		if late != n {
			t.Errorf("seed %d: %d late shifts, want %d", seed, late, n)
		}
	}
}

func TestDrawnStaysWithinWhatAProfileMayHold(t *testing.T) {
	p := bike.Example()
	moved := 0
	for seed := range uint64(50) {
		d := Drawn(p, seed)
		for _, n := range bike.Numbers() {
			if v := n.In(d); v < n.Least || v > n.Most {
				t.Errorf("seed %d: %s is %g", seed, n.Key, v)
			} else if v != n.In(p) {
				moved++
			}
		}
	}
	if moved < 50*20 {
		t.Errorf("%d numbers moved", moved)
	}
	if !reflect.DeepEqual(p, bike.Example()) {
		t.Error("the profile itself was moved")
	}
}

func TestTruthInJSON(t *testing.T) {
	r := Week(bike.Example(), Options{Seed: 1, Rides: 1})[0]
	data, err := json.Marshal(r.Truth)
	if err != nil {
		t.Fatal(err)
	}
	var back struct {
		Made      string
		Seconds   int
		Gear      []int
		BatteryWh float64 `json:"battery_wh"`
		Accounts  []struct {
			Account string
			Wh      float64
			W       []float64
		}
	}
	if err := json.Unmarshal(data, &back); err != nil {
		t.Fatal(err)
	}
	if back.Made == "" || back.Seconds != r.Truth.Seconds || len(back.Gear) != back.Seconds || len(back.Accounts) != int(AccountCount) {
		t.Errorf("%q, %d s, %d gears, %d accounts", back.Made, back.Seconds, len(back.Gear), len(back.Accounts))
	}
	near(t, "battery", back.BatteryWh, r.Truth.TerminalWh(), 1e-9)
	for _, a := range back.Accounts {
		sum := 0.0
		for _, w := range a.W {
			sum += w
		}
		near(t, a.Account, sum/3600, a.Wh, 0.001)
	}
}

func BenchmarkErrandOf20Minutes(b *testing.B) {
	p, road := bike.Example(), CoastRoad()
	for i := range b.N {
		r := Simulate(p, Errand(road, uint64(i), 20), Lugger(), uint64(i))
		b.ReportMetric(float64(r.Truth.Seconds)/60, "min/ride")
	}
}

// The learning ride is one that a person could ride: its length, its hardest
// minute, and that the spin reaches the end of the battery's voltage within the
// cut-off speed.
func TestLearningRideIsOneThatAPersonCanRide(t *testing.T) {
	p := bike.Example()
	rides := LearningRides(p, 1, 3)
	if len(rides) != 3 {
		t.Fatalf("%d rides", len(rides))
	}
	for _, r := range rides {
		tr := r.Truth
		if minutes := float64(tr.Seconds) / 60; minutes < 20 || minutes > 40 {
			t.Errorf("%s: %.0f minutes", r.Name, minutes)
		}
		hardest, sum, spent := 0.0, 0.0, 0
		for i, w := range tr.Power[Legs] {
			sum += w
			if i >= 60 {
				sum -= tr.Power[Legs][i-60]
			}
			hardest = max(hardest, sum/60)
			volts := p.Motor.TorqueConstant*tr.MotorSpeed[i] + p.Motor.ResistanceOhm*tr.MotorAmps[i]
			if tr.MotorAmps[i] > 1 && volts > 0.985*tr.Volts[i] && tr.Speed[i] < p.Assist.CutoffKmh/3.6 {
				spent++
			}
			if rpm := tr.CadenceRPM[i]; rpm > 145 {
				t.Fatalf("%s: %.0f rpm", r.Name, rpm)
			}
		}
		if hardest > 250 {
			t.Errorf("%s: %.0f W over a minute", r.Name, hardest)
		}
		if spent < 20 {
			t.Errorf("%s: out of voltage for %d s", r.Name, spent)
		}
		if peak := slices.Max(tr.Winding); peak > 90 {
			t.Errorf("%s: the winding reaches %.0f °C", r.Name, peak)
		}
	}
}
