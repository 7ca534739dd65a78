package shifts

import (
	"math"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/made"
	"cogledger/analysis/road"
)

// reviewed takes a made ride through every stage, as its log tells it.
func reviewed(t testing.TB, mr *made.Ride) madeRide {
	t.Helper()
	r, err := mr.Tracks[0].Ride()
	if err != nil {
		t.Fatal(err)
	}
	inf, err := gears.Infer(r, mr.Bike, gears.Options{})
	if err != nil {
		t.Fatal(err)
	}
	x := madeRide{r: r, p: mr.Bike, inf: inf}
	x.rd = road.Load(r, x.p, road.Options{})
	x.d = drive.Run(r, x.p, inf, x.rd, drive.Options{})
	x.m = drive.Alternatives(r, x.p, inf, x.rd, x.d)
	return x
}

// TestPlannedSavingIsWhatTheSimulatorSaves rides each plan again in the
// simulator, which shares nothing with the planner but the bike profile. Rides
// of the rider who lugs must save what the plan says within a tenth; rides of
// the rider who shifts well under 1 % of their energy.
func TestPlannedSavingIsWhatTheSimulatorSaves(t *testing.T) {
	for seed := range uint64(3) {
		var planned, rerun float64
		for _, mr := range made.Week(bike.Example(), made.Options{Seed: seed + 1}) {
			if len(mr.Tracks) > 1 {
				continue // the head unit's log alone does not hold the battery
			}
			x := reviewed(t, mr)
			plan := x.plan()
			saved := simulated(t, mr, nil) - simulated(t, mr, plan.Gear)
			used := mr.Truth.TerminalWh()
			if mr.Truth.Rider == made.Shifter().Name {
				if math.Abs(plan.Saving.Value) > 0.01*used || math.Abs(saved) > 0.01*used {
					t.Errorf("seed %d, %s: well shifted, yet saves %.2f Wh of %.1f, the simulator %.2f", seed, mr.Name, plan.Saving.Value, used, saved)
				}
				continue
			}
			t.Logf("seed %d, %s: plan %.2f Wh, simulator %.2f Wh of %.1f", seed, mr.Name, plan.Saving.Value, saved, used)
			if math.Abs(plan.Saving.Value-saved) > 0.1*saved+0.05 {
				t.Errorf("seed %d, %s: plan saves %.2f Wh, the simulator %.2f", seed, mr.Name, plan.Saving.Value, saved)
			}
			planned, rerun = planned+plan.Saving.Value, rerun+saved
		}
		if math.Abs(planned-rerun) > 0.1*rerun {
			t.Errorf("seed %d: plans save %.2f Wh, the simulator %.2f", seed, planned, rerun)
		}
	}
}

// simulated is the battery's energy in Wh of the ride in the planned gears, nil
// for those ridden.
func simulated(t testing.TB, mr *made.Ride, gear []int) float64 {
	t.Helper()
	path := make([]int, mr.Truth.Seconds)
	for s := range path {
		path[s] = gears.Unknown
		if s < len(gear) {
			path[s] = gear[s]
		}
	}
	again, err := mr.Replay(path)
	if err != nil {
		t.Fatal(err)
	}
	return again.TerminalWh
}

// TestPlantedLateShiftsAreFound: on a road of twenty ramps a rider who shifts
// well makes every down-shift about twenty seconds late. At least eighteen must
// be found, by a moment worth acting on that begins within five seconds of when
// the shift was due, in the gear that was held too long; at most two invented.
func TestPlantedLateShiftsAreFound(t *testing.T) {
	for seed := range uint64(3) {
		scenario, rider := made.LateOnRamps(20)
		mr := made.Simulate(bike.Example(), scenario, rider, seed+1)
		x := reviewed(t, mr)
		moments := x.moments(x.plan())
		planted, found, worth := 0, 0, 0
		for _, late := range mr.Truth.Planted {
			if late.Habit != made.LateDownShift {
				continue
			}
			planted++
			for _, m := range moments {
				if m.Worth && m.GearFrom == late.GearFrom && max(m.From-late.From, late.From-m.From) <= 5 {
					found++
					break
				}
			}
		}
		for _, m := range moments {
			if m.Worth {
				worth++
			}
		}
		t.Logf("seed %d: %d of %d found, %d invented", seed, found, planted, worth-found)
		if planted != 20 || found < 18 || worth-found > 2 {
			t.Errorf("seed %d: %d of %d planted late shifts found, %d invented", seed, found, planted, worth-found)
		}
	}
}

// TestHabitsOfMadeRiders compares the habits found in a made week with those
// that were planted.
func TestHabitsOfMadeRiders(t *testing.T) {
	p := bike.Example()
	var lugged, well [][]Habit
	starts := 0
	for _, mr := range made.Week(p, made.Options{Seed: 1}) {
		x := reviewed(t, mr)
		habits := x.habits(x.plan())
		if mr.Truth.Rider == made.Shifter().Name {
			well = append(well, habits)
			continue
		}
		lugged = append(lugged, habits)
		for _, h := range mr.Truth.Planted {
			if h.Habit == made.TallGearStart {
				starts++
			}
		}
	}
	tall := kind(MergeHabits(p, lugged), TallStart)
	if math.Abs(float64(tall.Count-starts)) > 0.15*float64(starts) {
		t.Errorf("%d tall-gear starts found, %d made", tall.Count, starts)
	}
	for _, key := range []string{TallStart, LateDownShift} {
		h := kind(MergeHabits(p, lugged), key)
		if !h.Carried || h.Advice == "" || h.Cost.Value <= 0 || !(h.RangeKm > 0) {
			t.Errorf("the rider who lugs: %+v", h)
		}
	}
	if h := kind(MergeHabits(p, lugged), LateDownShift); !(h.DelayS > lateS) {
		t.Errorf("late down-shifts after %g s", h.DelayS)
	}
	for _, key := range []string{TallStart, LateDownShift, OneGear, FullAssist, ShiftUnderLoad} {
		if h := kind(MergeHabits(p, well), key); h.Advice != "" {
			t.Errorf("the rider who shifts well is told: %s", h.Advice)
		}
	}
}

func kind(habits []Habit, key string) Habit {
	for _, h := range habits {
		if h.Kind == key {
			return h
		}
	}
	return Habit{}
}
