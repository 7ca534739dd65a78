package ride_test

import (
	"strings"
	"testing"
	"unicode/utf8"

	"cogledger/ingest/ride"
)

func TestLabel(t *testing.T) {
	for text, want := range map[string]string{
		"  Harbour   loop ":         "Harbour loop",
		"red \x1b[31malert\x07":     "red [31malert",
		"two\r\nlines\u2028more":    "two lines more",
		"turned \u202eround\u2066":  "turned round",
		"broken \xff\xfe bytes":     "broken bytes",
		"Überlandfahrt, 20 °C":      "Überlandfahrt, 20 °C",
		strings.Repeat("é", 120):    strings.Repeat("é", 120),
		strings.Repeat("é", 100000): strings.Repeat("é", 120) + "…",
	} {
		got := ride.Label(text)
		if got != want || !utf8.ValidString(got) {
			t.Errorf("%.40q became %q, want %q", text, got, want)
		}
	}
}
