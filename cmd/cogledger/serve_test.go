package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"cogledger/analysis/bike"
	"cogledger/analysis/made"
	"cogledger/cmd/internal/counter"
	"cogledger/ingest/csvlog"
	"cogledger/ingest/fitlog"
)

// startServe runs `cogledger serve` and returns the address of its page.
func startServe(t *testing.T, args ...string) string {
	t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	out, in := io.Pipe()
	code := make(chan int, 1)
	var complaints bytes.Buffer
	go func() {
		code <- run(ctx, strings.NewReader(""), in, &complaints, append([]string{"serve", "--address", "127.0.0.1:0"}, args...))
		in.Close()
	}()
	t.Cleanup(func() {
		stop()
		if got := <-code; got != exitDone {
			t.Errorf("serve ended with %d: %s", got, complaints.String())
		}
	})
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatalf("serve said nothing: %v %s", err, complaints.String())
	}
	go io.Copy(io.Discard, out)
	_, rest, _ := strings.Cut(line, "http://")
	address, _, _ := strings.Cut(rest, "/")
	return "http://" + address
}

// writeMade writes a made ride's log as a device would.
func writeMade(t *testing.T, path string, m *made.Ride) {
	t.Helper()
	var b bytes.Buffer
	if err := fitlog.Write(&b, m.Tracks[0]); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
}

func realLog(t *testing.T) string {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/tormoder/fit").Output()
	if err != nil {
		t.Fatalf("where is module github.com/tormoder/fit: %v", err)
	}
	return filepath.Join(strings.TrimSpace(string(out)), "testdata", "bpg", "garmin.fit")
}

// What the counter does with a good log, a broken one, and both.
func TestCounterWork(t *testing.T) {
	dir := t.TempDir()
	demo, broken := filepath.Join(dir, "demo.fit"), filepath.Join(dir, "broken.fit")
	writeMade(t, demo, made.Week(bike.Example(), made.Options{Seed: 4, Rides: 1})[0])
	if err := os.WriteFile(broken, []byte("not a log at all"), 0o666); err != nil {
		t.Fatal(err)
	}
	order := func(paths ...string) counter.Order {
		o := counter.Order{Bike: bike.ExampleYAML(), BikeFile: "demo"}
		for _, p := range paths {
			o.Before = append(o.Before, counter.File{Name: filepath.Base(p), Path: p})
		}
		return o
	}
	var steps []counter.Progress
	out, err := counterWork(context.Background(), order(demo, broken, realLog(t)), func(p counter.Progress) { steps = append(steps, p) })
	if err != nil {
		t.Fatal(err)
	}
	if len(out.Problems) != 1 || out.Problems[0].File != "broken.fit" || out.Problems[0].Text == "" {
		t.Errorf("problems %+v", out.Problems)
	}
	var names []string
	for _, d := range out.Documents {
		names = append(names, d.Name)
		if len(d.Data) < 5000 {
			t.Errorf("%s has %d bytes", d.Name, len(d.Data))
		}
	}
	if got := strings.Join(names, " "); got != "report.html coach-A4.html coach-Letter.html" {
		t.Errorf("documents %s", got)
	}
	if len(steps) != 4 || steps[1].Done != 1 || steps[1].Total != 4 || !strings.Contains(steps[1].Doing, "broken.fit") {
		t.Errorf("progress %+v", steps)
	}

	out, err = counterWork(context.Background(), order(broken), func(counter.Progress) {})
	if err == nil || len(out.Problems) != 1 {
		t.Errorf("only a broken log: %v, %+v", err, out.Problems)
	}
	bad := order(demo)
	bad.Bike, bad.BikeFile = []byte("nme: x"), "mine.yaml"
	if _, err = counterWork(context.Background(), bad, func(counter.Progress) {}); err == nil || !strings.Contains(err.Error(), "mine.yaml") {
		t.Errorf("a broken profile: %v", err)
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err = counterWork(ctx, order(demo), func(counter.Progress) {}); err == nil {
		t.Error("a cancelled job goes on")
	}
}

// The log of a second device is laid on its ride; one of another ride is named.
func TestCounterJoinsASecondLog(t *testing.T) {
	dir := t.TempDir()
	week := made.Week(bike.Example(), made.Options{Seed: 9})
	sunday := week[6]
	if len(sunday.Tracks) != 2 {
		t.Fatalf("%d logs of the ride with a drive logger", len(sunday.Tracks))
	}
	path, second := filepath.Join(dir, "sunday.fit"), filepath.Join(dir, "drive.csv")
	writeMade(t, path, sunday)
	var b bytes.Buffer
	if err := csvlog.Write(&b, sunday.Tracks[1]); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(second, b.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(dir, "monday.fit")
	writeMade(t, other, week[0])
	for _, c := range []struct {
		ride     string
		problems int
	}{{path, 0}, {other, 1}} {
		o := counter.Order{Bike: bike.ExampleYAML(), BikeFile: "demo", Before: []counter.File{{Name: "a.fit", Path: c.ride}}, Second: []counter.File{{Name: "drive.csv", Path: second}}}
		out, err := counterWork(context.Background(), o, func(counter.Progress) {})
		if err != nil {
			t.Fatal(err)
		}
		if len(out.Problems) != c.problems {
			t.Errorf("%s: problems %+v", filepath.Base(c.ride), out.Problems)
		}
	}
}

// Gears found on the counter are offered as a profile that can be used again;
// one that cannot be found says so.
func TestCounterLearnsGears(t *testing.T) {
	dir := t.TempDir()
	o := counter.Order{Bike: bike.ExampleYAML(), BikeFile: "demo", Learn: true, Tyre: "47-622"}
	for i, m := range made.Week(bike.Example(), made.Options{Seed: 8, Rides: 3}) {
		path := filepath.Join(dir, fmt.Sprintf("%d.fit", i))
		writeMade(t, path, m)
		o.Before = append(o.Before, counter.File{Name: filepath.Base(path), Path: path})
	}
	out, err := counterWork(context.Background(), o, func(counter.Progress) {})
	if err != nil {
		t.Fatal(err)
	}
	if out.Documents[0].Name != "bike.yaml" {
		t.Fatalf("documents %v", out.Documents[0].Name)
	}
	p, err := bike.Parse(out.Documents[0].Data, "bike.yaml")
	if err != nil {
		t.Fatal(err)
	}
	have := bike.Example().Drivetrain
	if len(p.Drivetrain.Chainrings) != 1 || len(p.Drivetrain.Cogs) < 3 {
		t.Errorf("learnt %+v", p.Drivetrain)
	}
	// Only the ratio can be told; compare developments with the true ones.
	for _, cog := range p.Drivetrain.Cogs {
		ratio := float64(p.Drivetrain.Chainrings[0]) / float64(cog) * p.Circumference() / bike.Example().Circumference()
		best := 1.0
		for _, c := range have.Cogs {
			best = min(best, math.Abs(ratio/(float64(have.Chainrings[0])/float64(c))-1))
		}
		if best > 0.03 {
			t.Errorf("a gear of ratio %.3f is %.1f %% off any that the bike has", ratio, 100*best)
		}
	}
	o.Tyre = "no tyre"
	if _, err := counterWork(context.Background(), o, func(counter.Progress) {}); err == nil {
		t.Error("any tyre is taken")
	}
}

// TestServeInBrowser drives `cogledger serve` in Chromium; the checks are in
// cmd/internal/counter/browsertest/check.mjs. It needs node, npm and Chromium,
// and skips without them, unless COGLEDGER_BROWSER=1 makes that a failure.
// COGLEDGER_CHROMIUM names the browser if it is not on the path, and
// COGLEDGER_SHOTS a folder for pictures of the pages.
func TestServeInBrowser(t *testing.T) {
	missing := t.Skipf
	if os.Getenv("COGLEDGER_BROWSER") == "1" {
		missing = t.Fatalf
	} else if testing.Short() {
		t.Skip("a browser takes a while")
	}
	node, err := exec.LookPath("node")
	if err != nil {
		missing("node is not installed")
	}
	chromium := os.Getenv("COGLEDGER_CHROMIUM")
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil && chromium == "" {
			chromium = path
		}
	}
	if chromium == "" {
		missing("no Chromium on the path: set COGLEDGER_CHROMIUM")
	}
	module := filepath.Join("..", "internal", "counter", "browsertest")
	if _, err := os.Stat(filepath.Join(module, "node_modules", "playwright-core")); err != nil {
		if os.Getenv("COGLEDGER_BROWSER") != "1" {
			t.Skipf("run npm ci in %s first", module)
		}
		install := exec.Command("npm", "ci", "--no-audit", "--no-fund")
		install.Dir = module
		if out, err := install.CombinedOutput(); err != nil {
			t.Fatalf("npm ci: %v\n%s", err, out)
		}
	}

	dir := t.TempDir()
	log, err := os.ReadFile(realLog(t))
	if err != nil {
		t.Fatal(err)
	}
	for name, data := range map[string][]byte{"garmin.fit": log, "broken.fit": []byte("not a log at all")} {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	p := bike.Example()
	for name, rider := range map[string]made.Rider{"before": made.Lugger(), "after": made.Shifter()} {
		for i, m := range made.Week(p, made.Options{Seed: 5, Riders: []made.Rider{rider}}) {
			writeMade(t, filepath.Join(dir, fmt.Sprintf("%s-%d.fit", name, i+1)), m)
		}
	}
	writeMade(t, filepath.Join(dir, "demo.fit"), made.Week(p, made.Options{Seed: 6, Rides: 1})[0])

	ctx, cancel := context.WithTimeout(context.Background(), 4*time.Minute)
	defer cancel()
	check := exec.CommandContext(ctx, node, "check.mjs", chromium, startServe(t, "--max-upload", "50"), dir)
	check.Dir = module
	check.Stderr = os.Stderr
	out, err := check.Output()
	seen := 0
	for line := range strings.Lines(string(out)) {
		line = strings.TrimSpace(line)
		seen++
		if rest, bad := strings.CutPrefix(line, "not ok "); bad {
			name, reason, _ := strings.Cut(rest, ": ")
			t.Run(name, func(t *testing.T) { t.Error(reason) })
			continue
		}
		name, note, _ := strings.Cut(strings.TrimPrefix(line, "ok "), " # ")
		t.Run(name, func(t *testing.T) { t.Log(note) })
	}
	if err != nil && !t.Failed() || seen == 0 {
		t.Errorf("the browser's checks did not finish: %v after %d", err, seen)
	}
}
