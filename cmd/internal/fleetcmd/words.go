package fleetcmd

import (
	"fmt"
	"io"
	"math"
	"time"

	"github.com/jedib0t/go-pretty/v6/table"

	"cogledger/analysis/fleet"
	"cogledger/cmd/internal/fleetrun"
	fleetreport "cogledger/report/fleet"
)

// told says what a run did.
func told(w io.Writer, r fleetrun.Report, found *fleetrun.Finding) {
	fmt.Fprintf(w, "%d logs found, %d of them up to date", r.Found, r.Current)
	if found.Others > 0 {
		fmt.Fprintf(w, "; %d other files passed over", found.Others)
	}
	fmt.Fprintln(w)
	if r.Reviewed+r.Copies+r.Failed > 0 {
		fmt.Fprintf(w, "%d logs reviewed, %d copies, %d unusable; %d rides of %.0f hours in %v", r.Reviewed, r.Copies, r.Failed, r.Rides, float64(r.Seconds)/3600, r.Took.Round(time.Millisecond))
		if s := r.Took.Seconds(); s > 0.5 && r.Rides > 0 {
			fmt.Fprintf(w, ", %.0f rides a second", float64(r.Rides)/s)
		}
		fmt.Fprintln(w)
	}
	if r.Later > 0 {
		fmt.Fprintf(w, "%d logs were reviewed by a later version of this program and are left as they are, changed or not; use that version\n", r.Later)
	}
	if r.Assigned > 0 {
		fmt.Fprintf(w, "%d logs handed to another bike, rider or group\n", r.Assigned)
	}
}

// summary prints what matters most.
func summary(w io.Writer, s *fleet.Summary) {
	if s.All.Rides == 0 {
		fmt.Fprintln(w, "The store holds no ride yet.")
		return
	}
	fmt.Fprintf(w, "\n%d rides of %d bikes, %.0f km; %s lost to lugging a kilometre\n", s.All.Rides, s.All.Bikes, s.All.Km, ranged(s.Fleet.LossPerKm, "Wh"))
	standing(w, "Bikes that stand out by energy lost", s.Bikes)
	standing(w, "Riders that stand out by energy lost", s.Riders)
	var weak, hot int
	for _, b := range s.Battery {
		if b.Verdict == fleet.StandsOut {
			weak++
		}
	}
	for _, h := range s.Heat {
		if h.OverLimit > 0 {
			hot++
		}
	}
	places := 0
	for _, p := range s.Places {
		if p.Verdict == fleet.StandsOut {
			places++
		}
	}
	fmt.Fprintf(w, "Batteries to look at: %d. Motors over their winding's limit: %d. Places that stand out: %d.\n", weak, hot, places)
	if mixed := fleetreport.Mixed(s); mixed != "" {
		fmt.Fprintln(w, mixed)
	}
}

func standing(w io.Writer, title string, lines []fleet.Line) {
	t := table.NewWriter()
	t.SetOutputMirror(w)
	t.SetStyle(table.StyleLight)
	t.SetTitle(title)
	t.AppendHeader(table.Row{"", "rides", "km", "Wh lost a km", "lugging"})
	n := 0
	for _, l := range lines {
		if l.Verdict == fleet.StandsOut && n < 10 {
			n++
			t.AppendRow(table.Row{l.Name, l.Rides, fmt.Sprintf("%.0f", l.Km), ranged(l.LossPerKm, ""), fmt.Sprintf("%.0f %%", 100*l.LuggingShare)})
		}
	}
	if n > 0 {
		t.Render()
	}
}

func ranged(r fleet.Range, unit string) string {
	if unit != "" {
		unit = " " + unit
	}
	if math.IsNaN(r.Value) {
		return "an unknown number of" + unit
	}
	if math.IsNaN(r.Low) {
		return fmt.Sprintf("%.2f%s", r.Value, unit)
	}
	return fmt.Sprintf("%.2f%s (%.2f to %.2f)", r.Value, unit, r.Low, r.High)
}

// named lists what could not be used.
func named(w io.Writer, problems []fleetrun.Problem, logs int) error {
	if len(problems) == 0 {
		return nil
	}
	for _, p := range problems {
		fmt.Fprintf(w, "%s: %v\n", p.Path, p.Err)
	}
	return &Unreadable{len(problems), max(logs, len(problems))}
}
