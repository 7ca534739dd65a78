package gears_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
	"cogledger/ingest/ride"
)

// recorded is a ride whose rear gear the bike itself wrote down.
type recorded struct {
	file          string
	path          func(t testing.TB) string
	bike          *bike.Profile
	named, agreed float64 // least shares of pedalling seconds named, and of those that agree
}

// recordedRides lists them. Teeth are those that the gear numbers stand for;
// the riders had typed some of them in wrongly.
func recordedRides() []recorded {
	return []recorded{
		{
			// The front ring is not recorded, only ring times circumference can be
			// known: 85.5 m, taken as 40 teeth on 2.138 m.
			file: "WithGearChangeData.fit",
			path: func(t testing.TB) string {
				return moduleFile(t, "github.com/muktihari/fit", "testdata/from_official_sdk/WithGearChangeData.fit")
			},
			bike:  profile(2138, []int{40}, []int{40, 35, 31, 27, 24, 21, 19, 17, 15, 13, 11}),
			named: 0.93, agreed: 0.99,
		},
		{
			file:  "gears-2x11-power.fit",
			path:  func(t testing.TB) string { return sharedFile(t, "gears-2x11-power.fit") },
			bike:  profile(2105, []int{34, 50}, []int{28, 25, 23, 21, 19, 17, 15, 14, 13, 12, 11}),
			named: 0.98, agreed: 0.995,
		},
	}
}

// TestAgreement sets the inferred rear gear against the one that the bike
// recorded, beside two plainer ways. The records take no part in the inference.
// All are compared at the one lag between record and log that suits them best.
//
//	COGLEDGER_RIDES=DIR go test ./analysis/gears -run Agreement -v
func TestAgreement(t *testing.T) {
	for _, rec := range recordedRides() {
		t.Run(rec.file, func(t *testing.T) {
			r := readFIT(t, rec.path(t))
			f, err := gears.Infer(r, rec.bike, gears.Options{IgnoreRecorded: true})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%d s pedalled; speed trails cadence by %.2f s, spread %.2f %%, wheel %.0f mm (%.0f to %.0f), named from probability %.2f",
				f.PedallingSeconds, f.LagSeconds, 100*f.Spread, 1000*f.Circumference, 1000*f.CircumferenceLow, 1000*f.CircumferenceHigh, f.Threshold)
			chain := agree(r, f.Index, f.Best, rec.bike)
			nearest := nearestRatio(r, rec.bike)
			gated := medianGate(r, rec.bike)
			t.Log("hidden Markov chain:   ", chain)
			t.Log("nearest ratio:         ", agree(r, nearest, nearest, rec.bike))
			t.Log("5 s median, gated:     ", agree(r, gated, gated, rec.bike))
			t.Logf("%.0f of the %.0f named seconds that disagree lie within 2 s of a recorded change, where the record itself is not sure to the second", chain.nearChange, chain.wrong)
			var a tally
			a.addRear(f, chain.truth, len(rec.bike.Drivetrain.Cogs), func(i int) bool { return pedalling(r, i) })
			t.Logf("calibration error %.4f; %s", a.calibrationError(), a.curve())
			if chain.namedShare < rec.named || chain.named < rec.agreed {
				t.Errorf("named %.2f %% at %.2f %%, want %.1f %% at %.1f %%", 100*chain.namedShare, 100*chain.named, 100*rec.named, 100*rec.agreed)
			}
		})
	}
}

// An agreement is shares of pedalling seconds.
type agreement struct {
	lag               int
	namedShare, named float64 // named, and agreeing among them
	all               float64 // agreeing among all, the best guess counted where none is named
	wrong, nearChange float64 // s named that disagree, and those about a recorded change
	truth             []int
}

func (a agreement) String() string {
	return fmt.Sprintf("%6.2f %% named, %6.2f %% agree among named, %6.2f %% among all, record %d s early", 100*a.namedShare, 100*a.named, 100*a.all, a.lag)
}

// agree compares at the lag, in whole seconds, that suits best.
func agree(r *ride.Ride, index, best []int, p *bike.Profile) agreement {
	var most agreement
	for lag := -1; lag <= 6; lag++ {
		if a := agreeAt(r, index, best, lag, len(p.Drivetrain.Cogs)); a.named > most.named {
			most = a
		}
	}
	return most
}

func agreeAt(r *ride.Ride, index, best []int, lag, cogs int) agreement {
	a := agreement{lag: lag, truth: rearNumbers(r, lag)}
	var named, right, all, rightAll float64
	for i, want := range a.truth {
		if !pedalling(r, i) || want < 0 {
			continue
		}
		all++
		if best[i] >= 0 && best[i]%cogs == want {
			rightAll++
		}
		if index[i] < 0 {
			continue
		}
		named++
		if index[i]%cogs == want {
			right++
			continue
		}
		a.wrong++
		about := a.truth[max(0, i-2):min(len(a.truth), i+3)]
		if slices.Min(about) != slices.Max(about) {
			a.nearChange++
		}
	}
	a.namedShare, a.named, a.all = named/all, right/named, rightAll/all
	return a
}

// nearestRatio is the plain way: each second by itself, on the profile's wheel.
func nearestRatio(r *ride.Ride, p *bike.Profile) []int {
	index := make([]int, r.Len())
	for i := range index {
		index[i] = gears.Unknown
		if pedalling(r, i) {
			index[i] = nearestGear(r.At(ride.Speed, i)*60/r.At(ride.CadenceRPM, i), p)
		}
	}
	return index
}

// medianGate is the careful way: the nearest ratio to the median of five
// seconds, where these lie within 6 % of each other.
func medianGate(r *ride.Ride, p *bike.Profile) []int {
	index := make([]int, r.Len())
	for i := range index {
		index[i] = gears.Unknown
		var five []float64
		for k := i - 2; k <= i+2; k++ {
			if k >= 0 && k < r.Len() && pedalling(r, k) {
				five = append(five, r.At(ride.Speed, k)*60/r.At(ride.CadenceRPM, k))
			}
		}
		if len(five) < 5 {
			continue
		}
		slices.Sort(five)
		if five[4] < 1.06*five[0] {
			index[i] = nearestGear(five[2], p)
		}
	}
	return index
}

func nearestGear(development float64, p *bike.Profile) int {
	best, least := gears.Unknown, math.Inf(1)
	for g, gear := range p.Gears() {
		if d := math.Abs(math.Log(development / (p.Circumference() * gear.Ratio))); d < least {
			best, least = g, d
		}
	}
	return best
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
