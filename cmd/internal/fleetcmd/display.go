package fleetcmd

import (
	"fmt"
	"io"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"

	"cogledger/cmd/internal/fleetrun"
	"cogledger/cmd/internal/plain"
)

// quietEvery is how often a line is printed where nobody watches.
const quietEvery = 15 * time.Second

// A display shows progress: a bar on a terminal, else a line now and then.
type display struct {
	to   io.Writer
	bar  *progressbar.ProgressBar
	live bool
	last time.Time
}

func newDisplay(to io.Writer) *display {
	f, isFile := plain.Under(to).(*os.File)
	return &display{to: to, live: isFile && term.IsTerminal(int(f.Fd())), last: time.Now()}
}

func (d *display) progress(p fleetrun.Progress) {
	if p.Total == 0 {
		return
	}
	if d.live {
		if d.bar == nil {
			d.bar = progressbar.NewOptions(p.Total, progressbar.OptionSetWriter(plain.Under(d.to)), progressbar.OptionSetWidth(24),
				progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionSetPredictTime(false), progressbar.OptionClearOnFinish())
		}
		d.bar.Describe(describe(p))
		d.bar.Set(p.Done)
		return
	}
	if time.Since(d.last) >= quietEvery {
		d.last = time.Now()
		fmt.Fprintln(d.to, describe(p))
	}
}

func (d *display) end() {
	if d.bar != nil {
		d.bar.Finish()
	}
}

// describe puts progress into words.
func describe(p fleetrun.Progress) string {
	s := fmt.Sprintf("%d of %d logs", p.Done, p.Total)
	if p.Failed > 0 {
		s += fmt.Sprintf(", %d unusable", p.Failed)
	}
	if p.Rate > 0 {
		s += fmt.Sprintf(", %.0f a second", p.Rate)
	}
	if p.Left > 0 && p.Done < p.Total {
		s += fmt.Sprintf(", %v left", p.Left.Round(time.Second))
	}
	return s
}
