package evidence_test

import (
	"strings"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/drive"
	"cogledger/analysis/evidence"
	"cogledger/analysis/gears"
	"cogledger/analysis/made"
	"cogledger/analysis/road"
	"cogledger/ingest/ride"
)

func found(t *testing.T, track *ride.Track, p *bike.Profile) []evidence.Contradiction {
	t.Helper()
	r, err := track.Ride()
	if err != nil {
		t.Fatal(err)
	}
	inferred, err := gears.Infer(r, p, gears.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return evidence.Find(r, p, drive.Run(r, p, inferred, road.Load(r, p, road.Options{}), drive.Options{}))
}

// Simulated rides on bikes drawn within the profile's tolerances, sensors
// included, contradict nothing.
func TestCleanRidesContradictNothing(t *testing.T) {
	p := bike.Example()
	course := made.CoastRoad()
	for seed := uint64(1); seed <= 12; seed++ {
		m := made.Simulate(made.Drawn(p, seed), made.Errand(course, seed, 10), made.Lugger(), seed)
		for _, track := range m.Tracks {
			for _, c := range found(t, track, p) {
				t.Errorf("seed %d: %s", seed, c.Note.Text)
			}
		}
	}
	for _, m := range made.Week(p, made.Options{Seed: 4}) {
		for _, track := range m.Tracks {
			for _, c := range found(t, track, p) {
				t.Errorf("%s: %s", m.Name, c.Note.Text)
			}
		}
	}
}

// Each planted fault is told by its own sentence, and takes away what rests on it.
func TestPlantedFaults(t *testing.T) {
	scale := func(c ride.Channel, by float64) func(*ride.Track, *bike.Profile) {
		return func(track *ride.Track, _ *bike.Profile) {
			for i := range track.Values[c] {
				track.Values[c][i] *= by
			}
		}
	}
	for _, c := range []struct {
		name    string
		plant   func(*ride.Track, *bike.Profile)
		says    string
		against evidence.Target
	}{
		{"sign of current", scale(ride.BatteryAmps, -1), "sign is probably turned round", evidence.Energy},
		{"36 V pack on a 48 V profile", scale(ride.BatteryVolts, 0.75), "is not that of a battery of 48 V", evidence.Drive},
		{"motor speed in other units", scale(ride.MotorRPM, 0.10472), "the logged motor speed is 0.1", evidence.Drive},
		{"motor power as drawn power", func(track *ride.Track, _ *bike.Profile) { power(track, 1.1) }, "which no drive gives", evidence.Energy},
		{"motor power a third too low", func(track *ride.Track, _ *bike.Profile) { power(track, 0.55) }, "below what the profile", evidence.Nothing},
		{"ratio of the drive", func(_ *ride.Track, p *bike.Profile) { p.Drive.TurnsPerCrank = 360 }, "constants contradict each other", evidence.Drive},
		{"wheel typed 10 % too large in the device", scale(ride.Speed, 1.1), "the positions say", evidence.Nothing},
		{"distance counted 5 % short", scale(ride.Distance, 0.95), "the logged distance is", evidence.Nothing},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := *bike.Example()
			track := made.Week(&p, made.Options{Seed: 1})[1].Tracks[0]
			c.plant(track, &p)
			for _, x := range found(t, track, &p) {
				if strings.Contains(x.Note.Text, c.says) && x.Against == c.against && x.Note.Cure != "" {
					return
				}
				t.Log(x.Note.Text)
			}
			t.Error("not told")
		})
	}
}

func power(track *ride.Track, share float64) {
	column := make([]float64, len(track.Time))
	for i := range column {
		column[i] = share * track.Values[ride.BatteryVolts][i] * track.Values[ride.BatteryAmps][i]
	}
	track.Values[ride.MotorPower] = column
}
