package gears_test

import (
	"bytes"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/tormoder/fit"

	"cogledger/analysis/bike"
	"cogledger/ingest/ride"
)

// moduleFile returns the path of a file in a module of the build, or skips.
func moduleFile(t testing.TB, module, file string) string {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", module).Output()
	dir := strings.TrimSpace(string(out))
	if err != nil || dir == "" {
		t.Skipf("module %s is not in the module cache", module)
	}
	path := filepath.Join(dir, file)
	if _, err := os.Stat(path); err != nil {
		t.Skipf("module %s holds no %s", module, file)
	}
	return path
}

// sharedFile returns the path of a file in the folder that COGLEDGER_RIDES
// names, or skips.
func sharedFile(t testing.TB, file string) string {
	t.Helper()
	dir := os.Getenv("COGLEDGER_RIDES")
	if dir == "" {
		t.Skip("COGLEDGER_RIDES names no folder of rides")
	}
	path := filepath.Join(dir, file)
	if _, err := os.Stat(path); err != nil {
		t.Skipf("no %s in COGLEDGER_RIDES", file)
	}
	return path
}

// readFIT puts a FIT activity on the one-second clock with nothing but the
// decoder, so that the agreement is that of the inference alone.
func readFIT(t testing.TB, path string) *ride.Ride {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	file, err := fit.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	act, err := file.Activity()
	if err != nil {
		t.Fatal(err)
	}
	start := act.Records[0].Timestamp
	n := int(act.Records[len(act.Records)-1].Timestamp.Sub(start).Seconds()) + 1
	r := ride.New(n)
	r.Name, r.Start = filepath.Base(path), start
	speed, cadence, power, distance := missing(n), missing(n), missing(n), missing(n)
	seen := make([]bool, n)
	for _, rec := range act.Records {
		i := int(rec.Timestamp.Sub(start).Seconds())
		if i < 0 || i >= n {
			continue
		}
		seen[i] = true
		speed[i] = rec.GetEnhancedSpeedScaled()
		if math.IsNaN(speed[i]) {
			speed[i] = rec.GetSpeedScaled()
		}
		distance[i] = rec.GetDistanceScaled()
		if rec.Cadence != math.MaxUint8 {
			cadence[i] = float64(rec.Cadence)
		}
		if rec.Power != math.MaxUint16 {
			power[i] = float64(rec.Power)
		}
	}
	for i := 0; i < n; {
		gap := 0
		for i+gap < n && !seen[i+gap] {
			gap++
		}
		for k := range gap {
			if gap > 10 {
				r.SetPaused(i+k, true)
				continue
			}
			part := float64(k+1) / float64(gap+1)
			for _, c := range [][]float64{speed, cadence, power, distance} {
				c[i+k] = c[i-1]*(1-part) + c[i+gap]*part
			}
		}
		i += gap + 1
	}
	r.SetColumn(ride.Speed, speed, nil, ride.Device)
	r.SetColumn(ride.Distance, distance, nil, ride.Device)
	r.SetColumn(ride.CadenceRPM, cadence, nil, ride.Device)
	r.SetColumn(ride.RiderPower, power, nil, ride.Device)
	for _, ev := range act.Events {
		if ev.Event != fit.EventFrontGearChange && ev.Event != fit.EventRearGearChange {
			continue
		}
		r.Shifts = append(r.Shifts, ride.RecordedShift{
			Second:     ev.Timestamp.Sub(start).Seconds(),
			FrontTeeth: plausible(ev.FrontGear), RearTeeth: plausible(ev.RearGear),
			FrontNumber: plausible(ev.FrontGearNum), RearNumber: plausible(ev.RearGearNum),
		})
	}
	return r
}

func plausible(v uint8) int {
	if v == math.MaxUint8 {
		return 0
	}
	return int(v)
}

func missing(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = math.NaN()
	}
	return v
}

func profile(rolloutMM float64, rings, cogs []int) *bike.Profile {
	return &bike.Profile{
		Name:       "test bike",
		Wheel:      bike.Wheel{RolloutMM: rolloutMM},
		Drivetrain: bike.Drivetrain{Chainrings: rings, Cogs: cogs},
		Drive:      bike.Drive{Kind: bike.Mid, TurnsPerCrank: 36},
	}
}
