package gears

import (
	"fmt"
	"math"
	"strings"

	"cogledger/analysis/bike"
)

// Wheel is the wheel block of a profile, as learnt.
func (l *Learnt) Wheel() bike.Wheel {
	return bike.Wheel{RolloutMM: math.Round(1000 * l.Circumference)}
}

// Drivetrain is the drivetrain block of a profile, as learnt.
func (l *Learnt) Drivetrain() bike.Drivetrain {
	return bike.Drivetrain{Chainrings: l.Chainrings, Cogs: l.Cogs, HubGears: l.HubGears}
}

// LineNotes says for each key of the two blocks, dotted as in the profile, how
// certain its value is.
func (l *Learnt) LineNotes() map[string]string {
	notes := map[string]string{}
	switch {
	case l.AssumedCircumference:
		notes["wheel.rollout_mm"] = "assumed with the chainrings; together they fit the rides"
	case l.Circumference > 0:
		notes["wheel.rollout_mm"] = "as rolled on the rides, within about 1 %"
	}
	if l.AssumedRings {
		notes["drivetrain.chainrings"] = "not told by the rides; only teeth times rollout is: " + metres(l.RingMetres)
	} else {
		notes["drivetrain.chainrings"] = "as given"
	}
	var found []string
	for _, line := range l.Lines {
		switch {
		case line.HubStep > 0:
			found = append(found, fmt.Sprintf("step %d (%.0f s)", line.HubStep, line.Seconds))
		case line.Cog > 0:
			found = append(found, fmt.Sprintf("%d (%.0f %% sure, %.0f s)", line.Cog, 100*line.Certainty, line.Seconds))
		default:
			found = append(found, fmt.Sprintf("%.2f m fits no teeth (%.0f s)", line.Development, line.Seconds))
		}
	}
	key := "drivetrain.cogs"
	if len(l.HubGears) > 0 {
		key = "drivetrain.hub_gears"
	}
	notes[key] = "in use, lowest gear first: " + strings.Join(found, ", ") + "; gears never ridden are missing"
	return notes
}

func metres(values []float64) string {
	var s []string
	for _, v := range values {
		s = append(s, fmt.Sprintf("%.1f m", v))
	}
	return strings.Join(s, ", ")
}
