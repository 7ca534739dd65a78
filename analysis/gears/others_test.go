package gears_test

import (
	"crypto/sha256"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
	"cogledger/ingest/ride"
)

// TestAgreementOthers does as TestAgreement for every other ride at hand: those
// in COGLEDGER_RIDES and some of the decoder's own. Where the bike recorded its
// gears its profile is made of the records; else it is learnt from the ride, and
// only the share named can be said. Floors of the share named keep it from falling, a
// ride may not contradict the gears learnt from it, and must contradict six teeth
// more at the front.
func TestAgreementOthers(t *testing.T) {
	for _, path := range otherFiles(t) {
		t.Run(path.sum, func(t *testing.T) {
			r := readFIT(t, path.name)
			if !r.Has(ride.CadenceRPM) || !r.Has(ride.Speed) {
				t.Skip("no cadence or no speed")
			}
			p, from := bikeOf(t, r)
			f, err := gears.Infer(r, p, gears.Options{IgnoreRecorded: true})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%v x %v on %.0f mm, %s; %d s pedalled, %.2f %% named from probability %.2f; lag %.2f s, spread %.2f %%; notes %v",
				p.Drivetrain.Chainrings, p.Drivetrain.Cogs, 1000*f.Circumference, from, f.PedallingSeconds, 100*f.NamedShare(), f.Threshold, f.LagSeconds, 100*f.Spread, f.Notes)
			if len(r.Shifts) >= leastRecords {
				nearest, gated := nearestRatio(r, p), medianGate(r, p)
				t.Log("hidden Markov chain:   ", agree(r, f.Index, f.Best, p))
				t.Log("nearest ratio:         ", agree(r, nearest, nearest, p))
				t.Log("5 s median, gated:     ", agree(r, gated, gated, p))
				t.Logf("ring agrees in %.2f %% of the named seconds with a recorded ring", 100*ringAgreement(r, f, p))
			}
			if f.Mismatch.Found {
				t.Errorf("the profile that the ride itself gave is contradicted: %s", f.Mismatch.Note())
			}
			least, known := namedFloors()[path.sum]
			if known && f.NamedShare() < least {
				t.Errorf("%.2f %% of pedalling seconds named, want %.0f %%", 100*f.NamedShare(), 100*least)
			}
			wrong := *p
			wrong.Drivetrain.Chainrings = slices.Clone(p.Drivetrain.Chainrings)
			for k := range wrong.Drivetrain.Chainrings {
				wrong.Drivetrain.Chainrings[k] += 6
			}
			if g := inferred(t, r, &wrong); known && !g.Mismatch.Found {
				t.Error("six teeth more at the front are not contradicted")
			}
			if f.NamedSeconds > f.PedallingSeconds {
				t.Errorf("%d of %d pedalling seconds named", f.NamedSeconds, f.PedallingSeconds)
			}
		})
	}
}

const leastRecords = 20

// A hashed file is known by the start of its SHA-256 sum.
type hashed struct{ name, sum string }

// namedFloors are the least shares of pedalling seconds named, on rides whose
// drivetrain is learnt from themselves, by the file's sum.
func namedFloors() map[string]float64 {
	return map[string]float64{"dc352ab9e082": 0.77, "e278d20809b1": 0.89, "656b13b54ef5": 0.64}
}

// otherFiles lists the rides in COGLEDGER_RIDES, and of the decoder's own those
// that namedFloors knows.
func otherFiles(t *testing.T) []hashed {
	var files []hashed
	if dir := os.Getenv("COGLEDGER_RIDES"); dir != "" {
		named, _ := filepath.Glob(filepath.Join(dir, "*.fit"))
		for _, name := range named {
			if !slices.ContainsFunc(recordedRides(), func(r recorded) bool { return r.file == filepath.Base(name) }) {
				files = append(files, hashed{name, sumOf(t, name)})
			}
		}
	}
	root := filepath.Dir(filepath.Dir(moduleFile(t, "github.com/tormoder/fit", "testdata/bpg")))
	err := filepath.WalkDir(filepath.Join(root, "testdata"), func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || filepath.Ext(name) != ".fit" {
			return err
		}
		if sum := sumOf(t, name); namedFloors()[sum] > 0 {
			files = append(files, hashed{name, sum})
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

func sumOf(t *testing.T, name string) string {
	t.Helper()
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("%x", sha256.Sum256(data))[:12]
}

// bikeOf makes a profile from the records, and what they lack from the ride.
func bikeOf(t *testing.T, r *ride.Ride) (p *bike.Profile, from string) {
	var known gears.Known
	from = "learnt from the ride"
	if len(r.Shifts) >= leastRecords {
		known.Cogs = sprockets(r, func(s ride.RecordedShift) (int, int) { return s.RearNumber, s.RearTeeth }, 9, 52)
		known.Chainrings = sprockets(r, func(s ride.RecordedShift) (int, int) { return s.FrontNumber, s.FrontTeeth }, 20, 62)
		from = "cogs as recorded"
	}
	l, err := gears.Learn([]*ride.Ride{r}, known, gears.Options{})
	if err != nil || len(l.Chainrings) == 0 || len(l.Cogs) == 0 {
		t.Skipf("gears can be neither read nor learnt: %v", err)
	}
	return profile(1000*l.Circumference, l.Chainrings, l.Cogs), from
}

// sprockets lists the teeth recorded for each number, in the order of numbers;
// numbers never used lie between their neighbours. It is nil when the records
// make no sense.
func sprockets(r *ride.Ride, of func(ride.RecordedShift) (number, teeth int), least, most int) []int {
	var teeth []int
	for _, s := range r.Shifts {
		number, n := of(s)
		if number < 1 || number > 14 || n < least || n > most {
			continue
		}
		for len(teeth) < number {
			teeth = append(teeth, 0)
		}
		teeth[number-1] = n
	}
	for i, n := range teeth {
		if n > 0 {
			continue
		}
		later := slices.IndexFunc(teeth[i:], func(n int) bool { return n > 0 })
		if i == 0 {
			teeth[0] = teeth[later] + later*(teeth[later]-least)/10
			continue
		}
		teeth[i] = teeth[i-1] + (teeth[i+later]-teeth[i-1])/(later+1)
	}
	seen := map[int]bool{}
	for _, n := range teeth {
		if seen[n] || n < least {
			return nil
		}
		seen[n] = true
	}
	return teeth
}

// ringAgreement compares where the bike recorded a ring that it has.
func ringAgreement(r *ride.Ride, f *gears.Inference, p *bike.Profile) float64 {
	named, right, cogs := 0.0, 0.0, len(p.Drivetrain.Cogs)
	next, ring := 0, -1
	for i, g := range f.Index {
		for next < len(r.Shifts) && int(r.Shifts[next].Second)+2 <= i {
			if k := r.Shifts[next].FrontNumber; k >= 1 && k <= len(p.Drivetrain.Chainrings) {
				ring = k - 1
			}
			next++
		}
		if ring < 0 || g < 0 || !pedalling(r, i) {
			continue
		}
		named++
		if g/cogs == ring {
			right++
		}
	}
	return right / named
}

func TestSprockets(t *testing.T) {
	r := ride.New(10)
	for _, s := range [][2]int{{1, 28}, {3, 23}, {4, 21}, {9, 255}, {0, 17}} {
		r.Shifts = append(r.Shifts, ride.RecordedShift{RearNumber: s[0], RearTeeth: s[1]})
	}
	got := sprockets(r, func(s ride.RecordedShift) (int, int) { return s.RearNumber, s.RearTeeth }, 9, 52)
	if fmt.Sprint(got) != "[28 26 23 21]" {
		t.Errorf("sprockets %v", got)
	}
}
