package report

import (
	"bytes"
	"os"
	"testing"
)

func TestWritePages(t *testing.T) {
	dir := os.Getenv("REPORT_OUT")
	if dir == "" {
		t.Skip("REPORT_OUT is not set")
	}
	for name, c := range map[string]int{"one": 1, "week": 5} {
		var b bytes.Buffer
		if err := HTML(&b, sampleSet(c, 2700), Options{}); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(dir+"/"+name+".html", b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
