package fleet

import (
	"context"
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"cogledger/analysis/fleet"
	"cogledger/analysis/fleet/store/storetest"
)

// An attacker holds the open export of a fleet and the private one, and matches
// each private bike to the named one whose rides are nearest in distance and
// battery. Against the open export itself that succeeds, so the attack works;
// against the private one it names no more bikes than a single blind guess.
func TestPrivateExportWithstandsMatching(t *testing.T) {
	for seed := uint64(1); seed <= 5; seed++ {
		rows := held{Dump: storetest.Expected(storetest.Drawn(40+seed, 200))}
		for i := range rows.Dump.Rides { // as rides are: no two of one length, each battery with its ratio
			r := &rows.Dump.Rides[i]
			r.DistanceM = 2000 + 61.37*float64(i*7919%1009)
			r.ResistanceRatio = 0.8 + 0.05*figureIn(strings.TrimPrefix(r.Bike, "bike ")) + 0.001*float64(i%7)
		}
		folder := t.TempDir()
		open, private := filepath.Join(folder, "open"), filepath.Join(folder, "private")
		must(t, Export(context.Background(), open, CSV, rows, Veil{}, false))
		v := Veil{Private: true, Pseudonyms: fleet.Pseudonyms{Key: []byte("a key")}, Groups: map[string]bool{"north": true}}
		must(t, Export(context.Background(), private, CSV, rows, v, false))
		known, target := readCSV(t, filepath.Join(open, "rides.csv")), readCSV(t, filepath.Join(private, "rides.csv"))
		bikes := map[string]bool{}
		for _, line := range known[1:] {
			bikes[line[column(t, known, "bike")]] = true
		}
		if right := attack(t, known, known); right < len(bikes)*9/10 {
			t.Fatalf("fleet %d: the attack on the open rides names only %d of %d bikes", seed, right, len(bikes))
		}
		if right := attack(t, known, target); right > 1 {
			t.Errorf("fleet %d: the attack names %d of %d bikes", seed, right, len(bikes))
		}
		for _, name := range []string{"bike", "rider", "content", "profile", "resistance_ratio", "capacity_wh"} {
			for _, line := range target[1:] {
				if cell := line[column(t, target, name)]; cell != "" {
					t.Fatalf("fleet %d: a private ride's %s is %q", seed, name, cell)
				}
			}
		}
		for _, line := range readCSV(t, filepath.Join(private, "habits.csv"))[1:] {
			if line[0] != "" {
				t.Fatalf("fleet %d: a private habit names its ride %q", seed, line[0])
			}
		}
	}
}

// attack counts the bikes, as called in target, whose rides point most often to
// the bike of that place in known; rows of both stand in the same order.
func attack(t *testing.T, known, target [][]string) int {
	votes, truth := map[string]map[string]int{}, map[string]string{}
	for i, line := range target[1:] {
		called := line[column(t, target, "bike")]
		truth[called] = known[i+1][column(t, known, "bike")]
		best, least := "", math.Inf(1)
		for _, k := range known[1:] {
			d := 0.0
			for _, name := range []string{"distance_m", "resistance_ratio"} {
				a, b := figureIn(line[column(t, target, name)]), figureIn(k[column(t, known, name)])
				if diff := math.Abs(a-b) / (1e-9 + math.Abs(b)); !math.IsNaN(diff) {
					d += diff
				}
			}
			if d < least {
				best, least = k[column(t, known, "bike")], d
			}
		}
		if votes[called] == nil {
			votes[called] = map[string]int{}
		}
		votes[called][best]++
	}
	right := 0
	for called, v := range votes {
		guess, most := "", 0
		for bike, n := range v {
			if n > most {
				guess, most = bike, n
			}
		}
		if guess == truth[called] {
			right++
		}
	}
	return right
}

func column(t *testing.T, table [][]string, name string) int {
	t.Helper()
	for i, head := range table[0] {
		if head == name {
			return i
		}
	}
	t.Fatalf("no column %s", name)
	return -1
}

func figureIn(cell string) float64 {
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil {
		return math.NaN()
	}
	return v
}
