package fleet

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Sums is what a store hands over for a summary. Cells hold only what Options
// allow to be shown.
type Sums struct {
	All                   Tally
	Bikes, Riders, Groups []Tally
	Spans                 []Tally // weeks or months, in order of time
	Habits                []HabitTally
	Cells                 []CellTally
	Problems              []Problem
	Logs                  int64 // looked at
	Duplicates            int64 // of them, with the content of another
	Doubles               []Double
	Versions              []VersionTally // of the rides, the earliest first
}

// Options say how a summary is made. The zero value names everybody; what is
// handed to others should set Private.
type Options struct {
	Private    bool
	Pseudonyms Pseudonyms
	LeastGroup int64 // smallest group and number of bikes at a place, LeastGroup when 0; applies when Private
	Rule       Rule
}

// Least is the smallest group that may be shown.
func (o Options) Least() int64 {
	switch {
	case !o.Private:
		return 1
	case o.LeastGroup > 0:
		return o.LeastGroup
	}
	return LeastGroup
}

// A Summary is what a fleet report shows.
type Summary struct {
	Options  Options
	Fleet    Line
	All      Tally
	Bikes    []Line
	Riders   []Line
	Groups   []GroupLine
	Habits   []HabitTally // of the whole fleet, dearest first
	Battery  []BatteryLine
	Heat     []HeatLine
	Places   []Place
	Trend    Trend
	Problems []Problem

	Logs, Duplicates int64
	Doubles          []Double // rides that another log holds too, not counted
	DoubtShare       float64  // relative half-width of the loss by the profiles' tolerances, NaN where not computed
	Versions         []VersionTally
	HiddenGroups     int  // too small to be shown
	RidersHidden     bool // fewer riders than may be shown one by one
}

// A GroupLine is one depot or team with its habits, dearest first.
type GroupLine struct {
	Line
	Bikes, Riders int64
	Habits        []HabitTally
}

// Summarise turns sums into what a report shows.
func Summarise(s Sums, o Options) *Summary {
	rule := o.Rule.or(DefaultRule())
	doubt := Share(s.All.DoubtWh, s.All.DoubtOfWh)
	sum := &Summary{
		Options: o, All: s.All, Logs: s.Logs, Duplicates: s.Duplicates, Doubles: s.Doubles, DoubtShare: doubt, Versions: s.Versions,
		Fleet:    line(&s.All, doubt),
		Bikes:    rank(s.Bikes, rule, doubt),
		Riders:   rank(named(s.Riders), rule, doubt),
		Battery:  batteries(s.Bikes),
		Heat:     hottest(s.Bikes),
		Places:   places(s.Cells),
		Trend:    trend(s.Spans),
		Problems: s.Problems,
	}
	sum.groups(s, rule, doubt)
	sum.Habits = ofFleet(s.Habits)
	if o.Private {
		sum.veil()
	}
	return sum
}

// named leaves out the rides whose rider is not known.
func named(riders []Tally) []Tally {
	return slices.DeleteFunc(slices.Clone(riders), func(t Tally) bool { return t.Key == "" })
}

// groups ranks the groups that may be shown and hands each its habits.
func (s *Summary) groups(sums Sums, rule Rule, doubt float64) {
	var shown []Tally
	for _, t := range named(sums.Groups) {
		if s.large(t.Bikes, t.Riders) {
			shown = append(shown, t)
		} else {
			s.HiddenGroups++
		}
	}
	for _, l := range rank(shown, rule, doubt) {
		g := GroupLine{Line: l}
		for _, t := range shown {
			if t.Key == l.Name {
				g.Bikes, g.Riders = t.Bikes, t.Riders
			}
		}
		for _, h := range sums.Habits {
			if h.Group == l.Name && s.large(h.Bikes, h.Riders) {
				g.Habits = append(g.Habits, h)
			}
		}
		sortHabits(g.Habits)
		s.Groups = append(s.Groups, g)
	}
}

// large reports whether so many bikes and riders may be shown as a group.
// Riders count where they are known at all.
func (s *Summary) large(bikes, riders int64) bool {
	least := s.Options.Least()
	return bikes >= least && (riders == 0 || riders >= least)
}

// ofFleet adds the habits of all groups up. Of bikes and riders with a habit
// the sum over groups is taken: a bike belongs to one group.
func ofFleet(habits []HabitTally) []HabitTally {
	var all []HabitTally
	for _, h := range habits {
		i := slices.IndexFunc(all, func(a HabitTally) bool { return a.Kind == h.Kind })
		if i < 0 {
			h.Group = ""
			all = append(all, h)
			continue
		}
		a := &all[i]
		a.Bikes += h.Bikes
		a.Riders += h.Riders
		a.Rides += h.Rides
		a.Count += h.Count
		a.Opportunities += h.Opportunities
		a.CostWh += h.CostWh
	}
	sortHabits(all)
	return all
}

func sortHabits(habits []HabitTally) {
	slices.SortStableFunc(habits, func(a, b HabitTally) int {
		if c := descending(a.CostWh, b.CostWh); c != 0 {
			return c
		}
		return cmp.Compare(a.Kind, b.Kind)
	})
}

// veil replaces names by pseudonyms and drops what is about too few. Batteries
// and hot motors keep the bike's name: the workshop must find the bike, and
// those lines say nothing of how it is ridden.
func (s *Summary) veil() {
	shown := make(map[string]bool)
	for _, g := range s.Groups {
		shown[g.Name] = true
	}
	hide := func(lines []Line, kind string) {
		for i := range lines {
			lines[i].Name = s.Options.Pseudonyms.Of(kind, lines[i].Name)
			if !shown[lines[i].Group] {
				lines[i].Group = ""
			}
		}
	}
	hide(s.Bikes, "bike")
	hide(s.Riders, "rider")
	least := s.Options.Least()
	if int64(len(s.Riders)) < least {
		s.RidersHidden = len(s.Riders) > 0
		s.Riders = nil
	}
	s.Places = slices.DeleteFunc(s.Places, func(p Place) bool {
		return p.Bikes < least || p.Riders > 0 && p.Riders < least
	})
	s.Habits = slices.DeleteFunc(s.Habits, func(h HabitTally) bool { return !s.large(h.Bikes, h.Riders) })
	for i := range s.Problems {
		name := s.Problems[i].Path[strings.LastIndexByte(s.Problems[i].Path, '/')+1:]
		s.Problems[i].Path = fmt.Sprintf("log %d", i+1)
		s.Problems[i].Text = strings.ReplaceAll(s.Problems[i].Text, name, s.Problems[i].Path)
	}
}
