package report

import (
	"fmt"
	"math"
	"strings"

	"cogledger/analysis"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

// worthShare is the share of the battery energy below which a saving is not
// worth a word of advice.
const worthShare = 0.01

// An answer is what stands at the top: one sentence, three figures, and at most
// three things to do.
type answer struct {
	Sentence string
	Aside    string // what the sentence rests on, or why there is none
	Figures  []headFigure
	Things   []thing
	Nothing  bool // nothing worth changing
}

// A headFigure is one number with its doubt.
type headFigure struct {
	Label, Value, Interval, Basis, Why, Note string
}

// A thing is one piece of advice with the places that it concerns.
type thing struct {
	Text, Saving string
	Places       []place
}

// A place is a link to a stretch of a ride.
type place struct {
	Ride, Text string
	From, To   int
}

// answerFor words the headline of one ride or of a set. The views are the rides
// that it speaks of.
func answerFor(h analysis.Headline, habits []shifts.Habit, all []*view, u units) answer {
	var a answer
	loss, used := h.LuggingLossWh, h.BatteryWh
	share := loss.Value / used.Value
	subject := "This ride"
	if len(all) > 1 {
		subject = "These rides"
	}
	if modelled(all) {
		subject = "Worked out from the road, " + strings.ToLower(subject)
	}
	a.Nothing = nothingWorth(h)
	switch {
	case !finite(used.Value):
		a.Sentence = "What the battery gave is not known."
		a.Aside = upperFirst(whyUsed(all)) + "."
	case !finite(loss.Value):
		a.Sentence = fmt.Sprintf("%s used %s. What lugging cost is not known.", subject, figure(used, u.energy))
		a.Aside = upperFirst(whyLoss(all)) + "."
	case a.Nothing && loss.Value <= 0:
		a.Sentence = fmt.Sprintf("%s used %s, and none of it was lost to lugging. Nothing worth changing here.", subject, figure(used, u.energy))
	case a.Nothing:
		a.Sentence = fmt.Sprintf("%s used %s; about %s of it went into lugging. Nothing worth changing here.", subject, figure(used, u.energy), figure(loss, u.energy))
		if loss.HoldsZero() {
			a.Aside = "The doubt about that loss reaches down to nothing, so it is no reason to ride otherwise."
		}
	default:
		a.Sentence = fmt.Sprintf("%s used %s, and lost %s of it to lugging: %s.", subject, figure(used, u.energy), figure(loss, u.energy), percent(share))
		if h.RangeGainKm.Value > 0 {
			a.Sentence += fmt.Sprintf(" Better gears would carry a full battery %s further.", figure(h.RangeGainKm, u.km()))
		}
	}
	if modelled(all) && finite(used.Value) {
		a.Aside = strings.TrimSpace(a.Aside + " The log holds neither battery volts and amperes nor the motor's power: what the motor gave is worked out from hill, wind and speed, less the rider's power. Take these figures as a rough guide.")
	}
	a.Figures = headFigures(h, all, u)
	if !a.Nothing {
		a.Things = things(habits, all, u)
	}
	return a
}

// nothingWorth reports whether no saving stands out of its doubt and is worth
// having. Unknown savings are not "nothing".
func nothingWorth(h analysis.Headline) bool {
	known := false
	for _, saving := range []doubt.Figure{h.LuggingLossWh, h.PlanSavingWh} {
		if !finite(saving.Value) || !finite(h.BatteryWh.Value) {
			continue
		}
		known = true
		if saving.Value >= worthShare*math.Abs(h.BatteryWh.Value) && !saving.HoldsZero() {
			return false
		}
	}
	return known
}

func headFigures(h analysis.Headline, all []*view, u units) []headFigure {
	used := newHeadFigure("Used", h.BatteryWh, u.energy, whyUsed(all))
	used.Label = "Out of the battery"
	if finite(h.WhPerKm.Value) {
		used.Note = figure(h.WhPerKm, u.perDistance)
	}
	lost := newHeadFigure("Lost to lugging", h.LuggingLossWh, u.energy, whyLoss(all))
	if finite(h.RangeGainKm.Value) && h.RangeGainKm.Value > 0 {
		lost.Note = "worth " + figure(h.RangeGainKm, u.km()) + " of range"
		if in := interval(h.RangeGainKm, u.km()); in != "" {
			lost.Note += ", " + in
		}
	}
	hot := newHeadFigure("Hottest winding", h.WindingPeakC, u.temperature, whyLoss(all))
	if finite(h.WindingPeakC.Value) {
		hot.Value = u.temperature.text(h.WindingPeakC.Value)
		if finite(h.WindingLimitC) {
			hot.Note = "its limit is " + u.temperature.text(h.WindingLimitC)
			if h.WindingPeakC.Value > h.WindingLimitC {
				hot.Note = "above its limit of " + u.temperature.text(h.WindingLimitC)
			}
		}
	}
	return []headFigure{used, lost, hot}
}

func newHeadFigure(label string, f doubt.Figure, m measure, why string) headFigure {
	h := headFigure{Label: label, Value: figure(f, m)}
	if !finite(f.Value) {
		h.Why = why
		return h
	}
	h.Interval, h.Basis = interval(f, m), f.Basis.String()
	return h
}

// things picks what to do: the habits that the data can carry, dearest first,
// then the dearest single spots.
func things(habits []shifts.Habit, all []*view, u units) []thing {
	var list []thing
	for _, h := range byCost(habits) {
		if len(list) == 3 {
			return list
		}
		if !h.Carried || h.Advice == "" || !(h.Cost.Value > 0) || h.Cost.HoldsZero() {
			continue
		}
		t := thing{Text: h.Advice, Saving: saving(h.Cost, u)}
		if len(all) == 1 {
			t.Places = all[0].placesOf(h)
		} else {
			t.Saving = fmt.Sprintf("%s in %d rides; %s", times(h.Count), len(all), t.Saving)
			t.Places = placesAcross(h.Kind, all)
		}
		list = append(list, t)
	}
	for _, v := range all {
		for _, s := range v.spots {
			if len(list) == 3 {
				return list
			}
			if coveredBy(list, v.id, s) {
				continue
			}
			list = append(list, thing{
				Text:   fmt.Sprintf("%s %s, ride %s instead of %s.", v.whereAt(len(all)), s.Place, v.gear(s.GearTo), v.gear(s.GearFrom)),
				Saving: saving(s.Saving, u),
				Places: []place{v.place(s)},
			})
		}
	}
	return list
}

// whereAt opens the sentence on a place; among several rides it names the ride.
func (v *view) whereAt(rides int) string {
	if rides > 1 {
		return heading(v.name) + ": at"
	}
	return "At"
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

func saving(f doubt.Figure, u units) string {
	text := "saves " + figure(f, u.energy)
	if in := interval(f, u.energy); in != "" {
		text += ", " + in
	}
	return text
}

func byCost(habits []shifts.Habit) []shifts.Habit {
	sorted := append([]shifts.Habit(nil), habits...)
	for i := 1; i < len(sorted); i++ {
		for k := i; k > 0 && sorted[k].Cost.Value > sorted[k-1].Cost.Value; k-- {
			sorted[k], sorted[k-1] = sorted[k-1], sorted[k]
		}
	}
	return sorted
}

func coveredBy(list []thing, rideID string, s spot) bool {
	for _, t := range list {
		for _, p := range t.Places {
			if p.Ride == rideID && p.From < s.To && p.To > s.From {
				return true
			}
		}
	}
	return false
}

// placesOf links the first places where a habit showed, spots by their number.
func (v *view) placesOf(h shifts.Habit) []place {
	var places []place
	taken := map[int]bool{}
	for k, second := range h.Seconds {
		if len(places) == 4 {
			break
		}
		if !v.shows(second) {
			continue
		}
		p := place{Ride: v.id, Text: "at " + span(second), From: second, To: min(second+30, v.to)}
		if k < len(h.Ends) {
			p.To = min(max(h.Ends[k], second+1), v.to)
		}
		for _, s := range v.spots {
			if second >= s.From && second < s.To {
				p = v.place(s)
			}
		}
		if !taken[p.From] {
			taken[p.From] = true
			places = append(places, p)
		}
	}
	return places
}

// placesAcross links the dearest ride's places of a habit.
func placesAcross(kind string, all []*view) []place {
	var best *view
	var habit shifts.Habit
	for _, v := range all {
		for _, h := range v.Habits {
			if h.Kind == kind && len(h.Seconds) > 0 && (best == nil || h.Cost.Value > habit.Cost.Value) {
				best, habit = v, h
			}
		}
	}
	if best == nil {
		return nil
	}
	places := best.placesOf(habit)
	for k := range places {
		places[k].Text = fmt.Sprintf("ride %d, %s", best.number, places[k].Text)
	}
	return places
}

func (v *view) place(s spot) place {
	text := fmt.Sprintf("at %s", span(s.From))
	if s.number <= mostSpots {
		text = fmt.Sprintf("spot %d", s.number)
	}
	return place{Ride: v.id, Text: text, From: s.From, To: s.To}
}

// modelled reports whether no ride's motor power rests on a log.
func modelled(all []*view) bool {
	for _, v := range all {
		if v.Drive.Knowledge != drive.FromRoad {
			return false
		}
	}
	return len(all) > 0
}

// whyUsed says why the battery's energy is not known.
func whyUsed(all []*view) string {
	return commonReason(all, func(v *view) string {
		if !v.Ride.Has(ride.BatteryAmps) && !v.Ride.Has(ride.MotorPower) {
			return v.whyNoMotor()
		}
		return "the battery's channels hold too little"
	})
}

// whyLoss says why it is not known what the motor did in which gear.
func whyLoss(all []*view) string {
	return commonReason(all, func(v *view) string {
		if v.Gears.NamedSeconds == 0 {
			return v.whyNoGear()
		}
		return v.whyNoMotor()
	})
}

// commonReason is the reason that all rides share, if they do.
func commonReason(all []*view, reason func(*view) string) string {
	first := reason(all[0])
	for _, v := range all[1:] {
		if reason(v) != first {
			return "none of the logs holds enough to work it out"
		}
	}
	return first
}

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
