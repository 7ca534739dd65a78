package analysis_test

import (
	"crypto/sha256"
	"encoding/hex"
	"math"
	"os"
	"strings"
	"testing"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/made"
	"cogledger/ingest"
	"cogledger/ingest/ride"
)

// claims are the claims that may be made, a letter each: Motor, Rider, gearS,
// Energy, Drive, Loss, Advice; a dash stands where one may not.
func claims(b analysis.Bearing) string {
	text := ""
	for _, c := range []struct {
		letter string
		v      analysis.Verdict
	}{{"M", b.Motor}, {"R", b.Rider}, {"S", b.Gears}, {"E", b.Energy}, {"D", b.Drive}, {"L", b.Loss}, {"A", b.Advice}} {
		if c.v.Given() {
			text += c.letter
		} else {
			text += "-"
		}
	}
	return text
}

// Damaged and mismatched variants of one simulated ride with every channel, and
// what may be claimed of each, written before the analysis was asked.
func TestWhatVariantsBear(t *testing.T) {
	p := bike.Example()
	hub := *p
	hub.Drive = bike.Drive{Kind: bike.Hub, TurnsPerWheel: 8}
	geared, wound := *p, *p
	geared.Drive.TurnsPerCrank *= 1.3
	wound.Motor.TorqueConstant *= 20
	without := func(channels ...ride.Channel) func(*ride.Track) {
		return func(track *ride.Track) {
			for _, c := range channels {
				track.Values[c] = nil
			}
		}
	}
	only := func(c ride.Channel, from, to float64, fill float64) func(*ride.Track) {
		return func(track *ride.Track) {
			n := float64(len(track.Time))
			for i := range track.Values[c] {
				if x := float64(i) / n; x < from || x >= to {
					track.Values[c][i] = fill
				}
			}
		}
	}
	scaled := func(c ride.Channel, by float64) func(*ride.Track) {
		return func(track *ride.Track) {
			for i := range track.Values[c] {
				track.Values[c][i] *= by
			}
		}
	}
	nan := math.NaN()
	driveless := without(ride.BatteryAmps, ride.BatteryVolts, ride.MotorPower, ride.MotorRPM, ride.MotorTemp, ride.AssistLevel, ride.BatteryCharge)
	for _, c := range []struct {
		name   string
		bike   *bike.Profile
		change []func(*ride.Track)
		want   string
	}{
		{"whole", p, nil, "MRSEDLA"},
		{"no cadence", p, []func(*ride.Track){without(ride.CadenceRPM, ride.MotorRPM)}, "MR-ED--"},
		{"cadence in the first hundredth", p, []func(*ride.Track){only(ride.CadenceRPM, 0, 0.01, nan)}, "MR-ED--"},
		{"cadence all zeros", p, []func(*ride.Track){scaled(ride.CadenceRPM, 0)}, "MR-ED--"},
		{"cadence of the middle tenth of the ride", p, []func(*ride.Track){only(ride.CadenceRPM, 0.5, 0.53, nan)}, "MR-ED--"},
		{"no power of the rider", p, []func(*ride.Track){without(ride.RiderPower)}, "M-SEDLA"},
		{"rider's power in a tenth", p, []func(*ride.Track){only(ride.RiderPower, 0, 0.1, nan)}, "M-SEDLA"},
		{"no channel of the drive, climbs show it", p, []func(*ride.Track){driveless}, "MRSEDLA"},
		{"no channel of the drive, no power of the rider", p, []func(*ride.Track){driveless, without(ride.RiderPower)}, "--S----"},
		{"no channel of the drive, no altitude", p, []func(*ride.Track){driveless, without(ride.Altitude)}, "-RS----"},
		{"strong legs and no channel of the drive", p, []func(*ride.Track){driveless, scaled(ride.RiderPower, 4)}, "-RS----"},
		{"assist level alone tells of the drive", p, []func(*ride.Track){without(ride.BatteryAmps, ride.BatteryVolts, ride.MotorPower, ride.MotorRPM, ride.RiderPower)}, "M-S----"},
		{"amperes in the first tenth", p, []func(*ride.Track){only(ride.BatteryAmps, 0, 0.1, nan), without(ride.MotorPower)}, "MRS----"},
		{"amperes in four tenths", p, []func(*ride.Track){only(ride.BatteryAmps, 0, 0.4, nan), without(ride.MotorPower)}, "MRS----"},
		{"amperes in seven tenths", p, []func(*ride.Track){only(ride.BatteryAmps, 0, 0.7, nan), without(ride.MotorPower)}, "MRSEDLA"},
		{"position and altitude alone", p, []func(*ride.Track){driveless, without(ride.CadenceRPM, ride.RiderPower, ride.Speed, ride.Distance)}, "-------"},
		{"no speed, no distance, no position", p, []func(*ride.Track){without(ride.Speed, ride.Distance, ride.Latitude, ride.Longitude)}, "MR-----"},
		{"hub motor", &hub, []func(*ride.Track){without(ride.MotorRPM)}, "MRSED--"},
		{"current with its sign turned round", p, []func(*ride.Track){scaled(ride.BatteryAmps, -1)}, "MRS----"},
		{"a pack of 36 V on a profile of 48 V", p, []func(*ride.Track){scaled(ride.BatteryVolts, 0.75)}, "MRSE---"},
		{"motor power above volts times amperes", p, []func(*ride.Track){func(track *ride.Track) {
			power := make([]float64, len(track.Time))
			for i := range power {
				power[i] = 1.2 * track.Values[ride.BatteryVolts][i] * track.Values[ride.BatteryAmps][i]
			}
			track.Values[ride.MotorPower] = power
		}}, "MRS----"},
		{"another ratio from motor to crank", &geared, nil, "MRSE---"},
		{"a motor that cannot turn so fast", &wound, nil, "MRSE---"},
		{"another sport", p, []func(*ride.Track){func(track *ride.Track) { track.Sources[0].Sport = "Running" }}, "-------"},
	} {
		t.Run(c.name, func(t *testing.T) {
			made := made.Week(p, made.Options{Seed: 1})[0]
			track := made.Tracks[0]
			for _, change := range c.change {
				change(track)
			}
			r, err := track.Ride()
			if err != nil {
				t.Fatal(err)
			}
			res := reviewed(t, r, c.bike)
			if got := claims(res.Bears); got != c.want {
				t.Errorf("claims %s, may be %s\n%+v", got, c.want, res.Bears)
			}
			withheld(t, res)
		})
	}
}

// withheld checks that what may not be claimed is not in the result.
func withheld(t *testing.T, res *analysis.Result) {
	t.Helper()
	h := res.Headline
	for _, c := range []struct {
		name    string
		verdict analysis.Verdict
		value   float64
	}{
		{"battery", res.Bears.Energy, h.BatteryWh.Value}, {"Wh/km", res.Bears.Energy, h.WhPerKm.Value}, {"winding", res.Bears.Energy, h.WindingPeakC.Value},
		{"rider", res.Bears.Rider, h.RiderWh.Value}, {"lugging", res.Bears.Loss, h.LuggingLossWh.Value}, {"range", res.Bears.Loss, h.RangeGainKm.Value},
		{"plan", res.Bears.Advice, h.PlanSavingWh.Value},
	} {
		if !c.verdict.Given() && !math.IsNaN(c.value) {
			t.Errorf("%s is %g, though %q", c.name, c.value, c.verdict.Why)
		}
	}
	if !res.Bears.Advice.Given() {
		for _, x := range res.Habits {
			if x.Advice != "" || x.Count > 0 {
				t.Errorf("habit %s is told, though %q", x.Kind, res.Bears.Advice.Why)
			}
		}
		if len(res.Moments) > 0 {
			t.Errorf("%d moments are told, though %q", len(res.Moments), res.Bears.Advice.Why)
		}
	}
}

// Recorded logs of bikes without a motor, of which no energy, no loss and no
// advice may be claimed whatever profile they are laid on. No log with a drive's
// channels is among them; the test says how many it found.
func TestWhatRecordedLogsBear(t *testing.T) {
	found := 0
	for _, path := range realLogs(t) {
		tracks, err := ingest.Open(path, ingest.Options{})
		if err != nil {
			continue
		}
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		sum := sha256.Sum256(data)
		name := hex.EncodeToString(sum[:4])
		for _, track := range tracks {
			r, err := track.Ride()
			if err != nil || r.Len() < 60 || r.Has(ride.BatteryAmps) || r.Has(ride.MotorPower) {
				continue
			}
			res := reviewed(t, r, bike.Example())
			found++
			if got := claims(res.Bears); strings.ContainsAny(got, "EDLA") {
				t.Errorf("log %s: claims %s\n%+v", name, got, res.Bears)
			}
			if !r.Has(ride.CadenceRPM) && res.Bears.Gears.Given() {
				t.Errorf("log %s: gears without cadence", name)
			}
			withheld(t, res)
		}
	}
	if found < 20 {
		t.Errorf("%d recorded logs, want 20 or more", found)
	}
	t.Logf("%d recorded logs", found)
}
