package main

import (
	"fmt"
	"io"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"

	"cogledger/cmd/internal/plain"
	"cogledger/ingest/ride"
)

// A progress shows on a terminal how far work is, once the work has taken a
// second. Elsewhere, and for shorter work, it shows nothing.
type progress struct {
	w     io.Writer
	total int
	began time.Time
	bar   *progressbar.ProgressBar // nil until a second has passed
}

func newProgress(w io.Writer, total int) *progress {
	return &progress{w: w, total: total, began: time.Now()}
}

// at tells that done of the steps are behind and what comes next.
func (p *progress) at(done int, doing string) {
	if p.bar == nil {
		if time.Since(p.began) < time.Second || !isTerminal(p.w) {
			return
		}
		p.bar = progressbar.NewOptions(p.total,
			progressbar.OptionSetWriter(plain.Under(p.w)), progressbar.OptionClearOnFinish(), progressbar.OptionShowCount(),
			progressbar.OptionSetWidth(24), progressbar.OptionSetElapsedTime(false), progressbar.OptionSetPredictTime(false))
	}
	p.bar.Describe(ride.Label(doing)) // the bar goes by the filter
	_ = p.bar.Set(done)               // a terminal that cannot be written to is no reason to stop
}

// say prints a line above the bar.
func (p *progress) say(format string, args ...any) {
	p.clear()
	fmt.Fprintf(p.w, format+"\n", args...)
}

// clear takes the bar away, at the end or before other text.
func (p *progress) clear() {
	if p.bar != nil {
		_ = p.bar.Clear()
		p.bar = nil // the next step draws it anew
	}
}

func isTerminal(w io.Writer) bool {
	f, isFile := plain.Under(w).(*os.File)
	return isFile && term.IsTerminal(int(f.Fd()))
}
