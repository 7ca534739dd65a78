package fleet

import "testing"

// Versions are compared as numbers, not as text.
func TestNewer(t *testing.T) {
	for _, test := range []struct {
		a, b string
		want bool
	}{
		{"10.1", "9.4", true}, {"9.4", "10.1", false}, {"9.10", "9.4", true}, {"9.4", "9.10", false},
		{"9.4", "9.4", false}, {"9.4", "", true}, {"", "9.4", false}, {"0.0", "earlier", true}, {"", "earlier", false},
	} {
		if got := Newer(test.a, test.b); got != test.want {
			t.Errorf("%q newer than %q: %v", test.a, test.b, got)
		}
	}
	if !Newer(Version(), "0.9") {
		t.Errorf("version %s", Version())
	}
}
