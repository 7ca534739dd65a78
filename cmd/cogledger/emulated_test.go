package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"

	"cogledger/analysis/bike"
	"cogledger/analysis/made"
)

// The same review of a made ride of ten minutes on amd64 and, emulated, on arm64, where the compiler fuses
// multiplications with additions: every number of the JSON agrees within 1e-9 of
// itself, but for the seventh decimal that the document rounds to. Needs Debian's
// qemu-user-static and minutes, so it runs only when COGLEDGER_EMULATOR names the
// emulator.
func TestSameNumbersOnArm64(t *testing.T) {
	emulator := os.Getenv("COGLEDGER_EMULATOR")
	if emulator == "" {
		t.Skip("COGLEDGER_EMULATOR=qemu-aarch64-static compares with arm64")
	}
	if runtime.GOARCH == "arm64" {
		t.Skip("this machine is arm64 itself")
	}
	dir := t.TempDir()
	here, there := filepath.Join(dir, "here"), filepath.Join(dir, "there")
	build := func(out, arch string) {
		cmd := exec.Command("go", "build", "-trimpath", "-o", out, ".")
		cmd.Env = append(os.Environ(), "GOARCH="+arch, "CGO_ENABLED=0")
		if said, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, said)
		}
	}
	build(here, runtime.GOARCH)
	build(there, "arm64")
	must := func(name string, args ...string) {
		t.Helper()
		if said, err := exec.Command(name, args...).CombinedOutput(); err != nil {
			t.Fatalf("%s %v: %v\n%s", name, args, err, said)
		}
	}
	profile := filepath.Join(dir, "bike.yaml")
	must(here, "bike", "new", "-o", profile)
	log := filepath.Join(dir, "ride.fit")
	writeMade(t, log, made.Simulate(bike.Example(), made.Errand(made.CoastRoad(), 5, 10), made.Lugger(), 5))
	var documents [2]any
	for k, run := range [][]string{{here}, {emulator, there}} {
		file := filepath.Join(dir, fmt.Sprintf("%d.json", k))
		must(run[0], append(run[1:], "review", log, "--bike", profile, "-o", filepath.Join(dir, "r.html"), "--json", file)...)
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(data, &documents[k]); err != nil {
			t.Fatal(err)
		}
	}
	c := comparison{}
	c.compare("", documents[0], documents[1])
	t.Logf("%d numbers, the largest difference %.2g of the number, at %q", c.numbers, c.worst, c.worstAt)
	if c.numbers < 200 || len(c.wrong) > 0 {
		t.Errorf("%d of %d numbers differ: %v", len(c.wrong), c.numbers, c.wrong[:min(len(c.wrong), 8)])
	}
}

// A comparison walks two JSON documents side by side.
type comparison struct {
	numbers int
	worst   float64 // of the numbers, relative, beyond the rounding of the document
	worstAt string
	wrong   []string
}

func (c *comparison) compare(at string, a, b any) {
	switch a := a.(type) {
	case map[string]any:
		other, ok := b.(map[string]any)
		if !ok || len(a) != len(other) {
			c.wrong = append(c.wrong, at)
			return
		}
		for key, v := range a {
			c.compare(at+"."+key, v, other[key])
		}
	case []any:
		other, ok := b.([]any)
		if !ok || len(a) != len(other) {
			c.wrong = append(c.wrong, at)
			return
		}
		for i, v := range a {
			c.compare(fmt.Sprintf("%s[%d]", at, i), v, other[i])
		}
	case float64:
		c.numbers++
		const rounding, most = 1e-7, 1e-9
		other, ok := b.(float64)
		off := max(0, math.Abs(a-other)-rounding*(1+1e-6)) / math.Max(math.Abs(a), 1e-3)
		if off > c.worst {
			c.worst, c.worstAt = off, at
		}
		if !ok || !(off <= most) {
			c.wrong = append(c.wrong, fmt.Sprintf("%s: %.12g and %v", at, a, b))
		}
	default:
		if a != b {
			c.wrong = append(c.wrong, fmt.Sprintf("%s: %v and %v", at, a, b))
		}
	}
}
