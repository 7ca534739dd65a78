package gears_test

import (
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
	"cogledger/ingest/ride"
)

// recorded is a ride whose rear gear the bike itself wrote down.
type recorded struct {
	file string
	path func(t testing.TB) string
	bike *bike.Profile
}

// recordedRides lists them. Teeth are those that the gear numbers stand for;
// the riders had typed some of them in wrongly.
func recordedRides() []recorded {
	return []recorded{
		{
			// The front ring is not recorded, only ring times circumference can be
			// known: 85.5, taken as 40 teeth on 2.138 m.
			file: "WithGearChangeData.fit",
			path: func(t testing.TB) string {
				return moduleFile(t, "github.com/muktihari/fit", "testdata/from_official_sdk/WithGearChangeData.fit")
			},
			bike: profile(2138, []int{40}, []int{40, 35, 31, 27, 24, 21, 19, 17, 15, 13, 11}),
		},
		{
			file: "gears-2x11-power.fit",
			path: func(t testing.TB) string { return sharedFile(t, "gears-2x11-power.fit") },
			bike: profile(2105, []int{34, 50}, []int{28, 25, 23, 21, 19, 17, 15, 14, 13, 12, 11}),
		},
	}
}

// TestAgreement sets the inferred rear gear against the one that the bike
// recorded. The records take no part in the inference.
func TestAgreement(t *testing.T) {
	for _, rec := range recordedRides() {
		t.Run(rec.file, func(t *testing.T) {
			r := readFIT(t, rec.path(t))
			f, err := gears.Infer(r, rec.bike, gears.Options{IgnoreRecorded: true})
			if err != nil {
				t.Fatal(err)
			}
			cogs := len(rec.bike.Drivetrain.Cogs)
			best, bestLag := agreement{}, 0
			for lag := -1; lag <= 6; lag++ {
				a := agree(r, f.Index, f.Best, rearNumbers(r, lag), cogs)
				if a.named > best.named {
					best, bestLag = a, lag
				}
			}
			t.Logf("pedalling %d s; named %.2f %%; agreement among named %.2f %%, among all %.2f %%; event lag %d s; speed lag %.2f s, C %.4f m, spread %.2f %%",
				f.PedallingSeconds, 100*f.NamedShare(), 100*best.named, 100*best.all, bestLag, f.LagSeconds, f.Circumference, 100*f.Spread)
		})
	}
}

type agreement struct{ named, all float64 }

func agree(r *ride.Ride, index, best, truth []int, cogs int) agreement {
	var named, right, all, rightAll float64
	for i, want := range truth {
		if !pedalling(r, i) || want < 0 {
			continue
		}
		all++
		if best[i] >= 0 && best[i]%cogs == want {
			rightAll++
		}
		if index[i] >= 0 {
			named++
			if index[i]%cogs == want {
				right++
			}
		}
	}
	return agreement{right / named, rightAll / all}
}

func pedalling(r *ride.Ride, i int) bool {
	return r.At(ride.CadenceRPM, i) >= 25 && r.At(ride.Speed, i) > 0.8
}

// rearNumbers is the recorded rear gear of every second, counted from 0 at the
// largest cog, -1 before the first record. A change counts from lag seconds
// after its record; of several in one second the last counts.
func rearNumbers(r *ride.Ride, lag int) []int {
	truth := make([]int, r.Len())
	next, now := 0, -1
	for i := range truth {
		for next < len(r.Shifts) && int(r.Shifts[next].Second)+lag <= i {
			if k := r.Shifts[next].RearNumber; k > 0 {
				now = k - 1
			}
			next++
		}
		truth[i] = now
	}
	return truth
}
