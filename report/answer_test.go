package report

import (
	"bytes"
	"strings"
	"testing"
)

// A headline whose energy nobody measured says where it comes from.
func TestModelledHeadlineSaysSo(t *testing.T) {
	for _, modelled := range []bool{false, true} {
		set := sampleSet(1, 300)
		if modelled {
			set = one(modelledResult())
		}
		var page bytes.Buffer
		if err := HTML(&page, set, Options{}); err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(page.String(), "Worked out from the road, this ride used"); got != modelled {
			t.Errorf("modelled %v: the headline says so: %v", modelled, got)
		}
	}
}
