package coach

import (
	"fmt"
	"math"

	"cogledger/analysis/lesson"
	"cogledger/analysis/shifts"
)

const mostSteps = 3

func facts(l lesson.Lesson, u units) string {
	s := fmt.Sprintf("from %s, %s", plural(l.Rides, "ride", "rides"), u.distance(l.Distance))
	if !math.IsNaN(l.UsedWh) {
		s += fmt.Sprintf(", %s Wh out of the battery", number(l.UsedWh))
	}
	return s
}

func opening(l lesson.Lesson, s []step) string {
	switch {
	case !l.Known():
		return "These rides cannot tell what to change: " + l.Bears.Why + "."
	case !l.Worth:
		return "There is nothing worth changing: the gears chosen are about as good as they can be."
	case len(s) == 0:
		return "Other gears would save a little, but these rides show no habit behind it. More rides may."
	case len(s) == 1:
		return "One thing to try on the next rides."
	}
	return "Things to try on the next rides. Take them one at a time, the first one first."
}

// steps picks at most three things to do: those that have a number of the
// rider's own first, then the dearest other habits.
func steps(l lesson.Lesson, g gearWords, u units) []step {
	var all []step
	if l.Rule.Parts > 0 {
		all = append(all, ruleStep(l.Rule))
	}
	if c := l.Cadence; c != nil {
		all = append(all, cadenceStep(*c))
	}
	if s := l.Start; s != nil {
		easier := ", or an easier gear"
		if s.Easiest {
			easier = ", your easiest gear"
		}
		all = append(all, step{
			fmt.Sprintf("Before you stop at the lights, shift to %s%s.", g.name(s.Gear), easier),
			fmt.Sprintf("You pulled away in a clearly harder gear in %d of %d starts. An easier one gets you away quicker, on less battery.", s.Taller, s.Of),
		})
	}
	if c := l.Climb; c != nil {
		m := c.Moment
		all = append(all, step{
			fmt.Sprintf("Take %s before the hill begins.", g.name(m.GearTo)),
			fmt.Sprintf("On the climb of %.0f %% at %s you used %s. The easier gear lets the motor turn at %.0f instead of %.0f a minute and saves %s Wh each time%s.",
				m.Grade*100, u.place(m.StartM), g.short(m.GearFrom), m.MotorRPMTo, m.MotorRPMFrom, number(m.Saving.Value), doubtful(between(m.Saving, number))),
		})
	}
	for _, h := range l.Habits {
		if do := toDo(h.Kind); do != "" && len(all) < mostSteps && !told(h.Kind, l) {
			all = append(all, step{do, seen(h)})
		}
	}
	return all[:min(mostSteps, len(all))]
}

func ruleStep(r shifts.Rule) step {
	s := step{
		Do:  fmt.Sprintf("Shift down when your legs turn slower than %.0f a minute, up when they turn faster than %.0f.", r.LowRPM, r.HighRPM),
		Why: fmt.Sprintf("Slower than %.0f is fewer than %.0f turns in ten seconds.", r.LowRPM, r.LowRPM/6),
	}
	if !math.IsNaN(r.Saving.Value) && !r.Saving.HoldsZero() && r.Saving.Value > 0 {
		s.Why += fmt.Sprintf(" Ridden by it, without seeing ahead, these rides would have taken about %s Wh less%s.", number(r.Saving.Value), doubtful(between(r.Saving, number)))
	}
	return s
}

func cadenceStep(c lesson.Cadence) step {
	inTen := fmt.Sprintf("That is %.0f turns in ten seconds.", float64(c.ShiftBelow)/6)
	if c.OnClimbs {
		return step{
			fmt.Sprintf("On climbs, shift down when your legs turn slower than %d a minute.", c.ShiftBelow),
			fmt.Sprintf("%s Below it your motor labours at the power that your climbs take; it did in %s of your climbing.", inTen, percent(c.ClimbsLugging)),
		}
	}
	return step{
		fmt.Sprintf("Shift down when your legs turn slower than %d a minute.", c.ShiftBelow),
		fmt.Sprintf("%s Of the time in which your motor laboured, %s was below it; of the time in which it did not, %s.", inTen, percent(c.LuggingUnder), percent(c.FineUnder)),
	}
}

// toDo is what to do about a habit.
func toDo(kind string) string {
	switch kind {
	case shifts.TallStart:
		return "Shift to an easier gear before you stop at the lights."
	case shifts.LateDownShift:
		return "Shift down as soon as your legs slow."
	case shifts.OneGear:
		return "Use the next gear when the road changes."
	case shifts.SpinningOut:
		return "Shift up when your legs race."
	case shifts.FullAssist:
		return "On steep ground take an easier gear and a little less assist."
	case shifts.HardBursts:
		return "Press the pedals gently while you gather speed."
	case shifts.ShiftUnderLoad:
		return "Ease off the pedals while you shift."
	}
	return ""
}

func seen(h shifts.Habit) string {
	count := times(h.Count)
	if h.Opportunities > 0 {
		count = fmt.Sprintf("%d of %s", h.Count, times(h.Opportunities))
	}
	return fmt.Sprintf("Seen %s; it took about %s Wh%s.", count, number(h.Cost.Value), doubtful(between(h.Cost, number)))
}

// told reports whether a step with the rider's own number covers the habit.
func told(kind string, l lesson.Lesson) bool {
	switch kind {
	case shifts.TallStart:
		return l.Start != nil
	case shifts.LateDownShift, shifts.OneGear:
		return l.Cadence != nil || l.Rule.Parts > 0
	}
	return false
}

func doubtful(interval string) string {
	if interval == "" {
		return ""
	}
	return " (" + interval + ")"
}

// worth says what better gears would have saved, where doubt leaves any of it.
func worth(l lesson.Lesson, u units) string {
	f := l.Saving
	if !l.Known() {
		return ""
	}
	if math.IsNaN(f.Value) || f.HoldsZero() || f.Value <= 0 {
		return ""
	}
	s := fmt.Sprintf("All gears at their best would have saved about %s Wh%s of the %s Wh used", number(f.Value), doubtful(between(f, number)), number(l.UsedWh))
	if r := l.RangeGainKm; r.Value > 0 && !r.HoldsZero() {
		km := func(v float64) string { return u.distance(v * 1000) }
		s += fmt.Sprintf("; without labouring a full battery goes %s further%s", km(r.Value), doubtful(between(r, km)))
	}
	return s + "."
}

// words explains the terms on the page.
func words(l lesson.Lesson) []word {
	all := []word{{"Labouring (“lugging”)", "the motor works hard but turns too slowly, and more of the battery becomes heat in it."}}
	if l.Turns != nil {
		all = append(all, word{"Running well", "within three points of the best efficiency it can reach at that power."})
	}
	return append(all,
		word{"Easier gear", "larger cog at the back or smaller ring at the front."},
		word{"Wh", "watt-hour, what a battery is filled with; a cup of water takes about 25 to boil."})
}
