package report

import (
	"bufio"
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/report/script"
)

// TestInBrowser opens reports in Chromium with the network off; the checks are
// in browsertest/check.mjs. It needs node, npm, Chromium and the chart library,
// and skips without them, unless COGLEDGER_BROWSER=1 makes that a failure.
// COGLEDGER_CHROMIUM names the browser if it is not on the path.
func TestInBrowser(t *testing.T) {
	missing := t.Skipf
	if os.Getenv("COGLEDGER_BROWSER") == "1" {
		missing = t.Fatalf
	} else if testing.Short() {
		t.Skip("a browser takes a while")
	}
	library, ok := script.Source()
	if !ok {
		missing("the chart library is not here: run make script")
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
	if _, err := os.Stat(filepath.Join("browsertest", "node_modules", "axe-core")); err != nil {
		if os.Getenv("COGLEDGER_BROWSER") != "1" {
			t.Skip("run npm ci in report/browsertest first")
		}
		install := exec.Command("npm", "ci", "--no-audit", "--no-fund")
		install.Dir = "browsertest"
		if out, err := install.CombinedOutput(); err != nil {
			t.Fatalf("npm ci: %v\n%s", err, out)
		}
	}
	dir := os.Getenv("COGLEDGER_PAGES") // keep the pages there, to look at them
	if dir == "" {
		dir = t.TempDir()
	}
	writeBrowserPages(t, dir, library)

	check := exec.Command(node, "check.mjs", chromium, dir)
	check.Dir = "browsertest"
	check.Stderr = os.Stderr
	out, err := check.Output()
	lines := bufio.NewScanner(bytes.NewReader(out))
	seen := 0
	for lines.Scan() {
		verdict := lines.Text()
		seen++
		if rest, bad := strings.CutPrefix(verdict, "not ok "); bad {
			name, reason, _ := strings.Cut(rest, ": ")
			t.Run(name, func(t *testing.T) { t.Error(reason) })
			continue
		}
		name, note, _ := strings.Cut(strings.TrimPrefix(verdict, "ok "), " # ")
		t.Run(name, func(t *testing.T) { t.Log(note) })
	}
	if err != nil && !t.Failed() || seen == 0 {
		t.Errorf("the browser's checks did not finish: %v after %d", err, seen)
	}
}

func writeBrowserPages(t *testing.T, dir, library string) {
	t.Helper()
	pages := []struct {
		name    string
		set     *analysis.Set
		library string
	}{
		{"ride.html", sampleSet(1, 1500), library},
		{"week.html", sampleSet(3, 700), library},
		{"bare.html", one(bareResult()), library},
		{"hostile.html", one(hostileResult()), library},
		{"still.html", sampleSet(2, 500), ""},
		{"long.html", sampleSet(1, 36000), library},
	}
	curves := curvesOf(t, bike.Example(), library)
	if err := os.WriteFile(filepath.Join(dir, "curves.html"), []byte(curves), 0o666); err != nil {
		t.Fatal(err)
	}
	for _, p := range pages {
		var b bytes.Buffer
		if err := writePage(&b, p.set, Options{}, p.library); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, p.name), b.Bytes(), 0o666); err != nil {
			t.Fatal(err)
		}
		t.Logf("%s: %d bytes", p.name, b.Len())
	}
}
