package fleetcmd

import (
	"fmt"
	"io"
	"time"

	"github.com/jedib0t/go-pretty/v6/table"

	"cogledger/analysis/fleet"
	"cogledger/cmd/internal/fleetrun"
	"cogledger/report/digits"
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

// summary prints what matters most, as the page has it.
func summary(w io.Writer, s *fleet.Summary) {
	if s.All.Rides == 0 {
		fmt.Fprintln(w, "The store holds no ride yet.")
		return
	}
	fmt.Fprintln(w)
	for _, line := range fleetreport.Lines(s) {
		fmt.Fprintln(w, line)
	}
	standing(w, "Bikes that stand out by energy lost", s, s.Bikes)
	standing(w, "Riders that stand out by energy lost", s, s.Riders)
}

func standing(w io.Writer, title string, s *fleet.Summary, lines []fleet.Line) {
	t := table.NewWriter()
	t.SetOutputMirror(w)
	t.SetStyle(table.StyleLight)
	t.SetTitle(title)
	t.AppendHeader(table.Row{"", "rides", "km", "Wh lost a km", "lugging"})
	n := 0
	for _, l := range lines {
		if l.Verdict == fleet.StandsOut && n < 10 {
			n++
			t.AppendRow(table.Row{l.Name, l.Rides, digits.Grouped(l.Km, 0), fleetreport.PerKm(s, l.LossPerKm), fleetreport.Percent(l.LuggingShare)})
		}
	}
	if n > 0 {
		t.Render()
	}
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
