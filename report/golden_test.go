package report

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"cogledger/analysis"
)

var update = flag.Bool("update", false, "write golden files and the schema anew")

// golden compares with a file, or writes it with -update.
func golden(t *testing.T, path string, got []byte) {
	t.Helper()
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o666); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v (run the test with -update)", err)
	}
	if d := cmp.Diff(string(want), string(got)); d != "" {
		t.Errorf("%s differs (-want +got):\n%s", path, d)
	}
}

func TestGoldens(t *testing.T) {
	now := time.Date(2026, 6, 9, 18, 0, 0, 0, time.UTC)
	short := func() *analysis.Set { return sampleSet(1, 240) }
	cases := []struct {
		name  string
		set   func() *analysis.Set
		o     Options
		write func(*bytes.Buffer, *analysis.Set, Options) error
	}{
		{"ride.json", short, Options{}, writeJSON},
		{"ride-private.json", func() *analysis.Set { return sampleSet(1, 900) }, Options{Privacy: true}, writeJSON},
		{"week.json", weeksSet, Options{}, writeJSON},
		{"bare.json", func() *analysis.Set { return one(bareResult()) }, Options{}, writeJSON},
		{"ride.txt", short, Options{Now: now}, writeSummary},
		{"ride-colour.txt", short, Options{Colour: true}, writeSummary},
		{"ride-imperial.txt", short, Options{Imperial: true}, writeSummary},
		{"ride-private.txt", short, Options{Privacy: true}, writeSummary},
		{"week.txt", func() *analysis.Set { return sampleSet(2, 240) }, Options{}, writeSummary},
		{"nothing.txt", func() *analysis.Set { return one(goodResult()) }, Options{}, writeSummary},
		{"bare.txt", func() *analysis.Set { return one(bareResult()) }, Options{}, writeSummary},
		{"modelled.txt", func() *analysis.Set { return one(modelledResult()) }, Options{}, writeSummary},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			var first, second bytes.Buffer
			if err := c.write(&first, c.set(), c.o); err != nil {
				t.Fatal(err)
			}
			if err := c.write(&second, c.set(), c.o); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(first.Bytes(), second.Bytes()) {
				t.Error("two runs differ")
			}
			golden(t, filepath.Join("testdata", c.name), first.Bytes())
		})
	}
}

func writeJSON(b *bytes.Buffer, set *analysis.Set, o Options) error    { return JSON(b, set, o) }
func writeSummary(b *bytes.Buffer, set *analysis.Set, o Options) error { return Summary(b, set, o) }
