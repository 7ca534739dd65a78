package fleet

import (
	"fmt"
	"math"
	"strings"

	"cogledger/analysis/fleet"
)

// facts are the line below the title.
func facts(s *fleet.Summary) []string {
	f := []string{plural(int(s.All.Rides), "ride", "rides"), plural(int(s.All.Bikes), "bike", "bikes")}
	if s.All.Riders > 0 {
		f = append(f, plural(int(s.All.Riders), "rider", "riders"))
	}
	if s.All.Km > 0 {
		f = append(f, shown(s.All.Km, 0)+" km")
	}
	if !s.All.First.IsZero() {
		f = append(f, s.All.First.Format("2 Jan 2006")+" to "+s.All.Last.Format("2 Jan 2006"))
	}
	return f
}

// answer is the page's first sentence, and what follows from it.
func answer(s *fleet.Summary) (string, []string) {
	l := s.Fleet.LossPerKm
	var first string
	switch {
	case !finite(l.Value):
		first = "The logs do not tell how much energy is lost to lugging."
	default:
		first = fmt.Sprintf("A kilometre of this fleet loses %s Wh to lugging", shown(l.Value, lossDigits(s)))
		if of := s.Fleet.BatteryPerKm; of > 0 {
			first += fmt.Sprintf(", %s %% of what its batteries give", shown(100*l.Value/of, 1))
		}
		first += "."
	}
	var asides []string
	say := func(n int, one, many string) {
		if n > 0 {
			asides = append(asides, plural(n, one, many)+".")
		}
	}
	say(out(s.Riders), "rider loses clearly more than the others", "riders lose clearly more than the others")
	say(out(s.Bikes), "bike loses clearly more than the others", "bikes lose clearly more than the others")
	weak, hot, places := 0, 0, 0
	for _, b := range s.Battery {
		weak += one(b.Verdict == fleet.StandsOut)
	}
	for _, h := range s.Heat {
		hot += one(h.OverLimit > 0)
	}
	for _, p := range s.Places {
		places += one(p.Verdict == fleet.StandsOut)
	}
	say(weak, "battery has clearly more resistance than the fleet’s: have it looked at", "batteries have clearly more resistance than the fleet’s: have them looked at")
	say(hot, "motor went over the limit of its winding, by the model", "motors went over the limit of their winding, by the model")
	say(places, "place costs far more than any other", "places cost far more than any other")
	if len(asides) == 0 {
		asides = []string{"No rider, bike, battery or place stands out."}
	}
	if mixed := Mixed(s); mixed != "" {
		asides = append(asides, mixed)
	}
	return first, asides
}

// Mixed says that the rides counted were reviewed by different versions of the
// analysis; nothing where they were not.
func Mixed(s *fleet.Summary) string {
	var rides []string
	for _, v := range s.Versions {
		name := v.Version
		if name == "" {
			name = "unknown"
		}
		rides = append(rides, fmt.Sprintf("%s by version %s", shown(float64(v.Rides), 0), name))
	}
	if len(rides) < 2 {
		return ""
	}
	return fmt.Sprintf("Rides reviewed by %d versions of the analysis are mixed: %s. Compare nothing closely until the newest has done them all.", len(rides), strings.Join(rides, ", "))
}

// Lines are the page's answer and figures for a terminal, in the same words and
// with the same digits.
func Lines(s *fleet.Summary) []string {
	sentence, lines := answer(s)
	lines = append([]string{strings.Join(facts(s), ", "), sentence}, lines...)
	for _, f := range figures(s) {
		lines = append(lines, fmt.Sprintf("%s: %s (%s)", f.Name, f.Value, f.Note))
	}
	return append(lines, fmt.Sprintf("The profiles’ doubt in this rests on %s.", DoubtedRides(s)))
}

// PerKm is a loss a kilometre as the page shows it.
func PerKm(s *fleet.Summary, r fleet.Range) string { return ranged(r).text(lossDigits(s)) }

// Percent is a share as the page's rankings show it.
func Percent(share float64) string { return shown(100*share, 1) + " %" }

func figures(s *fleet.Summary) []figure {
	f, digits := s.Fleet, lossDigits(s)
	lost := figure{"Lost to lugging", shown(f.LossPerKm.Value, digits) + " Wh/km", "not known how surely"}
	if finite(f.LossPerKm.Low) {
		lost.Note = fmt.Sprintf("between %s and %s", shown(f.LossPerKm.Low, digits), shown(f.LossPerKm.High, digits))
	}
	month := figure{"In 30 days of riding as now", "at most " + shown(f.Worth.PlanWh, 0) + " Wh", fmt.Sprintf("within reach of a plan that can be ridden and knows the whole road: %s full batteries", shown(f.Worth.Charges, 1))}
	lugging := figure{"Of the loaded time", shown(100*f.LuggingShare, 1) + " %", "the motor lugs"}
	return []figure{lost, month, lugging}
}

// lossDigits is how many decimals a loss a kilometre takes to show two or three
// digits.
func lossDigits(s *fleet.Summary) int {
	if s.Fleet.LossPerKm.Value < 0.1 {
		return 3
	}
	return 2
}

// ways words the dearest habits of each group.
func ways(s *fleet.Summary) []groupWays {
	var all []groupWays
	for _, g := range s.Groups {
		w := groupWays{Name: g.Name}
		for _, h := range g.Habits {
			if len(w.Habits) < 3 && h.CostWh > 0 && g.Km > 0 {
				text := fmt.Sprintf("%s: %s Wh in 100 km, %s", h.Kind, shown(100*h.CostWh/g.Km, 1), plural(int(h.Count), "time", "times"))
				if h.Opportunities > 0 {
					text += fmt.Sprintf(" of %s", shown(float64(h.Opportunities), 0))
				}
				w.Habits = append(w.Habits, text)
			}
		}
		if len(w.Habits) > 0 {
			all = append(all, w)
		}
	}
	return all
}

func trendWords(t fleet.Trend) string {
	switch {
	case !finite(t.Slope.Value):
		return "Too few weeks to tell a trend."
	case !t.Moves():
		return "No trend: the change could as well be chance."
	}
	way := "rises"
	if t.Slope.Value < 0 {
		way = "falls"
	}
	return fmt.Sprintf("The loss %s by %s Wh/km in 30 days (%s to %s).", way, shown(math.Abs(t.Slope.Value), 3), shown(t.Slope.Low, 3), shown(t.Slope.High, 3))
}

// method says what the figures rest on.
func method(s *fleet.Summary) []string {
	m := []string{
		"Energy lost to lugging is what the battery gave in the lugging seconds, less what the best gear on the same bike would have drawn for the same speed, the same power at the wheel and the same leg power, with the legs between 60 and 100 rpm.",
		"A loss a kilometre is the sum of the losses over the sum of the kilometres. Its range counts chance, each ride being one draw, and how well the bike profiles are known; comparisons between bikes or riders count chance alone, since what is wrong in a profile is wrong for all of them.",
		"Stands out: above the median of the others by more than chance and their own spread explain, and by at least 30 %. Of those found, at most one in twenty is expected to be false.",
	}
	if finite(s.DoubtShare) {
		m = append(m, fmt.Sprintf("The profiles’ doubt was computed for %s, drawn by chance: %s %% of their loss, taken for all.", DoubtedRides(s), shown(100*s.DoubtShare, 0)))
	} else {
		m = append(m, fmt.Sprintf("The profiles’ doubt is not in these ranges: none of the rides that it is computed for (%s) had a loss.", DoubtedRides(s)))
	}
	if s.All.Modelled > 0 {
		m = append(m, fmt.Sprintf("The motor’s energy is modelled in %s of %s: their logs have neither battery nor motor power.", shown(float64(s.All.Modelled), 0), plural(int(s.All.Rides), "ride", "rides")))
	}
	if s.Duplicates > 0 {
		m = append(m, plural(int(s.Duplicates), "log is a copy", "logs are copies")+" of another and counted once.")
	}
	if n := len(s.Doubles); n > 0 {
		m = append(m, plural(n, "log holds", "logs hold")+" a ride that another log of the same bike holds too. The richer log is counted, the other is listed with what could not be read.")
	}
	return m
}

// DoubtedRides says for how many rides the profiles' doubt was computed.
func DoubtedRides(s *fleet.Summary) string {
	return fmt.Sprintf("%s of %s", shown(float64(s.All.Doubted), 0), plural(int(s.All.Rides), "ride", "rides"))
}

func out(lines []fleet.Line) int {
	n := 0
	for _, l := range lines {
		n += one(l.Verdict == fleet.StandsOut)
	}
	return n
}

func one(is bool) int {
	if is {
		return 1
	}
	return 0
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return shown(float64(n), 0) + " " + many
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

func nan() float64 { return math.NaN() }
