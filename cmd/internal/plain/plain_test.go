package plain

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func TestWhatReachesATerminal(t *testing.T) {
	for _, c := range []struct{ in, out string }{
		{"a ride\twith\nlines, ä and 骑\n", "a ride\twith\nlines, ä and 骑\n"},
		{"\x1b[2Jgone", `\u001b[2Jgone`},
		{"\x1b]0;title\a", `\u001b]0;title\u0007`},
		{"over\rwritten", `over\u000dwritten`},
		{"gpj\u202egnp.exe", `gpj\u202egnp.exe`},
		{"\u2066isolated\u2069", `\u2066isolated\u2069`},
		{"c1 \u009b2J", `c1 \u009b2J`},
		{"a byte \x9b2J", "a byte \ufffd2J"},
		{"\x1b[33mours\x1b[0m \x1b[1mbold\x1b[0m", "\x1b[33mours\x1b[0m \x1b[1mbold\x1b[0m"},
		{"\x1b[8mhidden", `\u001b[8mhidden`},
		{"tag \U000e0041", `tag \udb40\udc41`},
	} {
		var b bytes.Buffer
		if _, err := New(&b).Write([]byte(c.in)); err != nil || b.String() != c.out {
			t.Errorf("%q gives %q, want %q (%v)", c.in, b.String(), c.out, err)
		}
	}
}

// However text is cut into writes, nothing that steers passes, and JSON stays
// the JSON it was.
func TestAnyTextInAnyPieces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.String().Draw(t, "text")
		data, err := json.Marshal(text)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		w := New(&b)
		for len(data) > 0 {
			n := rapid.IntRange(1, len(data)).Draw(t, "piece")
			if _, err := w.Write(data[:n]); err != nil {
				t.Fatal(err)
			}
			data = data[n:]
		}
		var back string
		if err := json.Unmarshal(b.Bytes(), &back); err != nil || back != text {
			t.Fatalf("%q came back as %q, %v", text, back, err)
		}
		for _, r := range b.String() {
			if hidden(r) || r == utf8.RuneError && !bytes.ContainsRune([]byte(text), r) {
				t.Fatalf("%q reaches the terminal in %q", r, b.String())
			}
		}
	})
}

func TestFirstSignalEndsTheContext(t *testing.T) {
	ctx, release := Signals()
	defer release()
	self, err := os.FindProcess(os.Getpid())
	if err != nil {
		t.Fatal(err)
	}
	if err := self.Signal(os.Interrupt); err != nil {
		t.Skip(err)
	}
	select {
	case <-ctx.Done():
	case <-time.After(time.Minute):
		t.Fatal("the context goes on")
	}
	if stop, ok := context.Cause(ctx).(*Stop); !ok || stop.Code() != 130 {
		t.Errorf("cause %v", context.Cause(ctx))
	}
}
