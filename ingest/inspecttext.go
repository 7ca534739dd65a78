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
		if device := deviceName(s); device != "" {
			fmt.Fprintf(&b, ", by %s", device)
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
		fmt.Fprintf(&b, "  %-20s %-27s %8.1f%% %9s %9s %9s %9s\n", name, origin(c), 100*(c.Measured+c.Interpolated+c.Derived), figure(c.Channel, c.Low), figure(c.Channel, c.Mean), figure(c.Channel, c.Top), hole(c.LongestHoleS))
	}
	if in.GapCount > 0 {
		fmt.Fprintf(&b, "\n  pauses of the log: %d\n", in.GapCount)
		for _, g := range in.Gaps {
			fmt.Fprintf(&b, "    %s at %s\n", clock(g.Seconds), clock(g.Second))
		}
		if n := in.GapCount - len(in.Gaps); n > 0 {
			fmt.Fprintf(&b, "    and %d shorter ones\n", n)
		}
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

// deviceName leaves out of a made log's device what the line says anyway.
func deviceName(s ride.Source) string {
	if !s.Made {
		return s.Device
	}
	name := strings.TrimPrefix(strings.TrimPrefix(s.Device, "made by simulation"), ": ")
	return strings.TrimPrefix(name, "made ")
}

// origin tells where a channel comes from, and how much of it was bridged.
func origin(c ChannelInspection) string {
	if bridged := c.Interpolated; bridged >= 0.005 && c.Origin <= ride.Satellite {
		return fmt.Sprintf("%s, %.0f%% bridged", c.Origin, 100*bridged)
	}
	return c.Origin.String()
}

func figure(c ride.Channel, v float64) string {
	text := fmt.Sprintf("%.2f", v)
	switch a := math.Abs(v); {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return "-"
	case c == ride.Latitude || c == ride.Longitude:
		text = fmt.Sprintf("%.4f", v)
	case a >= 1000:
		text = fmt.Sprintf("%.0f", v)
	case a >= 100:
		text = fmt.Sprintf("%.1f", v)
	}
	if bare := strings.TrimPrefix(text, "-"); strings.Trim(bare, "0.") == "" {
		return bare // no minus before nought
	}
	return text
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
