// Package plain keeps what files, names and profiles say from steering the
// user's terminal.
package plain

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"sync"
	"syscall"
	"unicode"
	"unicode/utf8"
)

// A Writer lets text through, and writes each control or direction sign in it
// as an escape that JSON and YAML read back, like \u202e. Of escape sequences
// only the three that the summary colours with pass, and only to a terminal.
type Writer struct {
	mu   sync.Mutex
	to   io.Writer
	rest []byte // an unfinished character, or sequence
}

// New filters what goes to w.
func New(w io.Writer) *Writer { return &Writer{to: w} }

// Under is the writer behind the filter, for what is wholly the program's own,
// such as a progress bar.
func Under(w io.Writer) io.Writer {
	if p, ok := w.(*Writer); ok {
		return p.to
	}
	return w
}

// ours lists the sequences of report.Summary.
func ours() []string { return []string{"\x1b[33m", "\x1b[1m", "\x1b[0m"} }

func (w *Writer) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	text := append(w.rest, p...)
	clean := make([]byte, 0, len(text))
	for len(text) > 0 && utf8.FullRune(text) {
		if n := sequence(text); n > 0 {
			clean, text = append(clean, text[:n]...), text[n:]
			continue
		}
		r, n := utf8.DecodeRune(text)
		if hidden(r) {
			clean = append(clean, escape(r)...)
		} else {
			clean = utf8.AppendRune(clean, r) // bytes that are none become U+FFFD
		}
		text = text[n:]
	}
	w.rest = append([]byte(nil), text...)
	if _, err := w.to.Write(clean); err != nil {
		return 0, err
	}
	return len(p), nil
}

// escape writes a sign outside the basic plane as JSON does, as a pair.
func escape(r rune) string {
	if r > 0xffff {
		r -= 0x10000
		return fmt.Sprintf(`\u%04x\u%04x`, 0xd800+r>>10, 0xdc00+r&0x3ff)
	}
	return fmt.Sprintf(`\u%04x`, r)
}

// sequence is the length of an own colour at the start of the text.
func sequence(text []byte) int {
	for _, s := range ours() {
		if strings.HasPrefix(string(text[:min(len(text), 8)]), s) {
			return len(s)
		}
	}
	return 0
}

// hidden reports signs that steer a terminal, or turn text about.
func hidden(r rune) bool {
	return r != '\n' && r != '\t' && (unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == '\u2028' || r == '\u2029')
}

// Exit codes of a run that was asked to stop, as shells write them: 128 and the
// number of the signal.
const (
	Interrupted = 128 + 2
	Terminated  = 128 + 15
	HungUp      = 128 + 1
)

// A Stop is the signal that asked a run to end.
type Stop struct{ Signal os.Signal }

func (s *Stop) Error() string { return "stopped by " + s.Signal.String() }

// Code is the exit code.
func (s *Stop) Code() int {
	switch s.Signal {
	case syscall.SIGTERM:
		return Terminated
	case syscall.SIGHUP:
		return HungUp
	}
	return Interrupted
}

// Signals gives a context that ends, with a *Stop as its cause, on the first
// Ctrl-C, SIGTERM or SIGHUP. The next one ends the process at once.
func Signals() (ctx context.Context, release func()) {
	ctx, cancel := context.WithCancelCause(context.Background())
	got := make(chan os.Signal, 1)
	for _, s := range []os.Signal{os.Interrupt, syscall.SIGTERM, syscall.SIGHUP} {
		if !signal.Ignored(s) { // as under nohup
			signal.Notify(got, s)
		}
	}
	go func() {
		select {
		case s := <-got:
			signal.Stop(got) // the next one does what it does by itself
			cancel(&Stop{s})
		case <-ctx.Done():
		}
	}()
	return ctx, func() { signal.Stop(got); cancel(nil) }
}
