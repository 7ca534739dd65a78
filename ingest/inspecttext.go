package ingest

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"cogledger/ingest/ride"
)

// Write writes the inspection as text of at most some hundred columns.
func (in *Inspection) Write(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", in.Name)
	for _, s := range in.Sources {
		fmt.Fprintf(&b, "  log        %s, %s", s.File, s.Format)
		if s.Device != "" {
			fmt.Fprintf(&b, ", by %s", s.Device)
		}
		if s.Made {
			b.WriteString(", made by simulation")
		}
		b.WriteByte('\n')
	}
	if in.Start.IsZero() {
		b.WriteString("  start      not known: the log has no absolute time\n")
	} else {
		fmt.Fprintf(&b, "  start      %s\n", in.Start.UTC().Format("2006-01-02 15:04:05 UTC"))
	}
	fmt.Fprintf(&b, "  length     %s, of which %s moving and %s paused\n", clock(in.Seconds), clock(in.MovingS), clock(in.PausedS))
	if !math.IsNaN(in.DistM) {
		fmt.Fprintf(&b, "  distance   %.2f km\n", in.DistM/1000)
	}
	fmt.Fprintf(&b, "  samples    %d", in.Samples)
	if !math.IsNaN(in.EveryS) {
		fmt.Fprintf(&b, ", one every %.3g s", in.EveryS)
	}
	fmt.Fprintf(&b, "\n  shifts     %d recorded\n\n", in.Shifts)

	fmt.Fprintf(&b, "  %-20s %-27s %9s %9s %9s %9s %9s\n", "channel", "from", "known", "lowest", "mean", "highest", "hole")
	for _, c := range in.Channels {
		name := c.Channel.String()
		if u := c.Channel.Unit(); u != "" {
			name += " " + u
		}
		fmt.Fprintf(&b, "  %-20s %-27s %8.1f%% %9s %9s %9s %9s\n", name, origin(c), 100*(c.Measured+c.Interpolated+c.Derived), figure(c.Low), figure(c.Mean), figure(c.Top), hole(c.LongestHoleS))
	}
	if in.GapCount > 0 {
		fmt.Fprintf(&b, "\n  pauses of the log: %d", in.GapCount)
		for i, g := range in.Gaps {
			sep := ", "
			if i == 0 {
				sep = "; "
			}
			fmt.Fprintf(&b, "%s%s at %s", sep, clock(g.Seconds), clock(g.Second))
		}
		if len(in.Gaps) < in.GapCount {
			b.WriteString(", and shorter ones")
		}
		b.WriteByte('\n')
	}
	b.WriteString("\n  what can be told\n")
	for _, t := range in.Told {
		fmt.Fprintf(&b, "    %-36s %-9s %s\n", t.Question, t.Answer, t.By)
	}
	if len(in.Notes) > 0 {
		b.WriteString("\n  notes\n")
		for _, n := range in.Notes {
			fmt.Fprintf(&b, "    %s\n", n)
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// origin tells where a channel comes from, and how much of it was bridged.
func origin(c ChannelInspection) string {
	if bridged := c.Interpolated; bridged >= 0.005 && c.Origin <= ride.Satellite {
		return fmt.Sprintf("%s, %.0f%% bridged", c.Origin, 100*bridged)
	}
	return c.Origin.String()
}

func figure(v float64) string {
	switch a := math.Abs(v); {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return "-"
	case a >= 1000:
		return fmt.Sprintf("%.0f", v)
	case a >= 100:
		return fmt.Sprintf("%.1f", v)
	}
	return fmt.Sprintf("%.2f", v)
}

func hole(seconds int) string {
	if seconds == 0 {
		return "-"
	}
	return clock(seconds)
}

// clock writes seconds as h:mm:ss.
func clock(seconds int) string {
	d := time.Duration(seconds) * time.Second
	return fmt.Sprintf("%d:%02d:%02d", int(d.Hours()), int(d.Minutes())%60, seconds%60)
}
