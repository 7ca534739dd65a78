package ingest_test

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"cogledger/ingest"
	"cogledger/ingest/csvlog"
	"cogledger/ingest/ride"
)

// The examples of README.md do what it says.
func TestReadme(t *testing.T) {
	text, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	block := func(kind string) []byte {
		found := regexp.MustCompile("(?s)```" + kind + "\n(.*?)```").FindSubmatch(text)
		if found == nil {
			t.Fatalf("no %s example", kind)
		}
		return found[1]
	}
	tracks, err := ingest.Read(block("csv"), "example.csv", ingest.Options{})
	if err != nil || len(tracks[0].Time) != 2 || len(tracks[0].Notes) > 0 || tracks[0].Values[ride.BatteryVolts][1] != 48 {
		t.Errorf("%v, %v", tracks, err)
	}
	if _, err := csvlog.ParseColumns(block("yaml"), "example.yaml"); err != nil {
		t.Error(err)
	}
	own := csvlog.Names()
	for _, name := range regexp.MustCompile("`([a-z_]+_[a-z]+|lat|lon)`").FindAllStringSubmatch(string(text[:strings.Index(string(text), "```csv")]), -1) {
		if !slices.Contains(own, name[1]) {
			t.Errorf("the reader does not know %q", name[1])
		}
	}
	for c := range ride.ChannelCount {
		if !strings.Contains(string(text), "`"+c.String()+"`") {
			t.Errorf("channel %s is not told of", c)
		}
	}
}
