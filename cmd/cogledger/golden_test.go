package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"cogledger/analysis/bike"
)

// What the terminal says of a made ride, from file to summary.
func TestGoldenSummary(t *testing.T) {
	const ride, golden = "../../testdata/quay.fit", "../../testdata/quay.txt"
	dir := t.TempDir()
	profile := filepath.Join(dir, "bike.yaml")
	if err := os.WriteFile(profile, bike.ExampleYAML(), 0o666); err != nil {
		t.Fatal(err)
	}
	var stdout, stderr bytes.Buffer
	code := run(context.Background(), nil, &stdout, &stderr, []string{"review", ride, "--bike", profile, "-o", filepath.Join(dir, "report.html")})
	if code != exitDone {
		t.Fatalf("exit code %d: %s", code, stderr.String())
	}
	got := bytes.ReplaceAll(stdout.Bytes(), []byte(dir+string(filepath.Separator)), nil)
	if *update {
		if err := os.WriteFile(golden, got, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), string(got)); diff != "" {
		t.Errorf("%s (-want +got):\n%s", golden, diff)
	}
}
