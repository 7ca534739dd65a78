package shortyaml

import (
	"errors"
	"fmt"
	"strings"
	"testing"
)

func TestRefused(t *testing.T) {
	tests := []struct {
		reason, text string
		line         int
		say          string
	}{
		{"a byte too many", "a: " + strings.Repeat("x", MostBytes-2), 0, "65537 bytes are too many"},
		{"deep brackets", "a: 1\nb: " + strings.Repeat("[", Deepest+1), 2, "more than 16 brackets"},
		{"deep braces", "a: " + strings.Repeat("{b: ", Deepest+1), 1, "more than 16 brackets"},
		{"a sign too many", strings.Repeat("a: 1\n", MostSigns) + "b: 1\n", MostSigns + 1, "more than 3000 signs"},
		{"an anchor", "a: 1\nb: &x 1\n", 2, "anchors and aliases"},
		{"an alias", "a: &x 1\nb: *x\n", 1, "anchors and aliases"},
		{"a merge key", "b:\n  <<: {a: 1}\n", 2, "anchors and aliases"},
		{"aliases of aliases", "a: &a [x, x]\nb: &b [*a, *a]\nc: [*b, *b]\n", 1, "anchors and aliases"},
		{"a second document", "a: 1\n---\nb: 1\n", 3, "second document"},
	}
	for _, tt := range tests {
		_, err := Parse([]byte(tt.text))
		var refused *Refusal
		if !errors.As(err, &refused) || refused.Line != tt.line || !strings.Contains(err.Error(), tt.say) || refused.Cure == "" {
			t.Errorf("%s: got %v, want line %d and %q", tt.reason, err, tt.line, tt.say)
		}
	}
}

func TestParsed(t *testing.T) {
	for reason, text := range map[string]string{
		"empty":                 "",
		"a comment alone":       "# nothing\n",
		"the most bytes":        "a: " + strings.Repeat("x", MostBytes-3),
		"the most brackets":     "a: " + strings.Repeat("[", Deepest) + strings.Repeat("]", Deepest),
		"the most signs":        "a: [" + strings.Repeat("1,", MostSigns-3) + "1]",
		"one document, marked":  "---\na: 1\n...\n",
		"an ampersand in words": "a: salt & pepper\n",
	} {
		if _, err := Parse([]byte(text)); err != nil {
			t.Errorf("%s: %v", reason, err)
		}
	}
	if _, err := Parse([]byte("a: [")); err == nil || errors.As(err, new(*Refusal)) {
		t.Errorf("what is not YAML gives the library's own error, got %v", err)
	}
}

// The texts that are slowest to parse at the bounds.
func BenchmarkParse(b *testing.B) {
	var keys strings.Builder
	for i := range MostSigns - 1 {
		fmt.Fprintf(&keys, "k%d: 1\n", i)
	}
	for name, text := range map[string]string{
		"keys": keys.String(), "colons": strings.Repeat("a: ", MostSigns), "dashes": strings.Repeat("- ", MostSigns) + "a",
		"list": "a: [" + strings.Repeat("1,", MostSigns-3) + "1]", "questions": strings.Repeat("? ", MostSigns) + "a",
		"map": "a: {" + strings.Repeat("b: 1,", MostSigns/2-2) + "}", "lines": "a:\n" + strings.Repeat("- 1\n", MostSigns-1),
		"nested": nested(300), "tags": "a: " + strings.Repeat("!!str ", MostSigns/2-1), "folded": "a: >\n" + strings.Repeat("  x\n", MostBytes/4-2),
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := Parse([]byte(text)); errors.As(err, new(*Refusal)) {
					b.Fatal(err)
				}
			}
		})
	}
}

func nested(deep int) string {
	var text strings.Builder
	for i := range deep {
		text.WriteString(strings.Repeat(" ", i) + "a:\n")
	}
	return text.String()
}
