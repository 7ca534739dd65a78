package fleet

import (
	"strings"
	"testing"

	"cogledger/analysis/fleet"
)

// The page says when rides of two versions are mixed, and only then.
func TestMixedVersionsAreTold(t *testing.T) {
	s := &fleet.Summary{Versions: []fleet.VersionTally{{Version: "3.4", Rides: 1200}}}
	if said := Mixed(s); said != "" {
		t.Errorf("one version: %s", said)
	}
	s.Versions = append([]fleet.VersionTally{{Version: "3.3", Rides: 17}}, s.Versions...)
	if said := Mixed(s); !strings.Contains(said, "17 by version 3.3, 1200 by version 3.4") {
		t.Errorf("said %q", said)
	}
	if _, asides := answer(s); !strings.Contains(strings.Join(asides, " "), "17 by version 3.3") {
		t.Errorf("the page says %q", asides)
	}
}
