package report

import (
	"fmt"
	"strings"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/replay"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

// An answer is what stands at the top: one sentence, three figures, and at most
// three things to do.
type answer struct {
	Sentence string
	Aside    string // what the sentence rests on, or why there is none
	Figures  []headFigure
	Rule     []string // what a rule without foresight would give
	Things   []thing
	Nothing  bool // nothing worth changing
	Open     bool // whether anything is, cannot be told
	Motor    bool // what the motor did is told, so its words need explaining
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
func answerFor(h analysis.Headline, bears analysis.Bearing, habits []shifts.Habit, rule shifts.Rule, all []*view, u units) answer {
	var a answer
	used := h.BatteryWh
	subject := "This ride"
	if len(all) > 1 {
		subject = "These rides"
	}
	if modelled(all) {
		subject = "Worked out from the road, " + strings.ToLower(subject)
	}
	worth, known := h.WorthChanging()
	a.Nothing = known && !worth
	a.Motor = bears.Motor.Given()
	switch {
	case !bears.Motor.Given():
		a.Sentence = "This page is about gears and legs only. What a motor and its battery did is not known."
		a.Aside = bears.Motor.Sentence()
		if !bears.Gears.Given() {
			a.Sentence = "This log tells neither what a motor did nor which gears were used."
			a.Aside += " " + bears.Gears.Sentence()
		}
	case !finite(used.Value):
		a.Sentence = "What the battery gave is not known."
		a.Aside = sentenceOr(bears.Energy, whyUsed(all))
	case !bears.Loss.Given() && all[0].Bike.Drive.Kind == bike.Hub:
		a.Sentence = fmt.Sprintf("%s used %s. %s", subject, figure(used, u.energy), fixedRatio(h, all, u))
		a.Aside = bears.Loss.Sentence()
	case !finite(h.LuggingLossWh.Value):
		a.Sentence = fmt.Sprintf("%s used %s. What lugging cost is not known.", subject, figure(used, u.energy))
		a.Aside = sentenceOr(bears.Loss, whyLoss(all))
	case !h.Undecided(all[0].Bike).Given():
		undecided := h.Undecided(all[0].Bike)
		a.Sentence = fmt.Sprintf("%s used %s. What lugging cost cannot be told from nothing: it lies %s.", subject, figure(used, u.energy), interval(h.LuggingLossWh, u.energy))
		a.Aside, a.Open = upperFirst(undecided.Cure)+".", true
	default:
		a.told(h, subject, u)
	}
	if modelled(all) && finite(used.Value) {
		a.Aside = strings.TrimSpace(a.Aside + " The log holds neither battery volts and amperes nor the motor's power: what the motor gave is worked out from hill and speed, in a wind that nobody measured, less the rider's power. Take these figures as a rough guide.")
	}
	a.Figures = headFigures(h, bears, all, u)
	if !bears.Motor.Given() {
		a.Figures = legFigures(h, bears, all, u)
	}
	if worth {
		a.Rule = foundWords(rule, u)
		a.Things = things(analysis.Advised(habits, h), all, u)
	}
	return a
}

// told words what lugging cost, where that is known.
func (a *answer) told(h analysis.Headline, subject string, u units) {
	used, loss := h.BatteryWh, h.LuggingLossWh
	switch {
	case a.Nothing && loss.Value <= 0:
		a.Sentence = fmt.Sprintf("%s used %s, and none of it was lost to lugging. Nothing worth changing here.", subject, figure(used, u.energy))
	case a.Nothing:
		a.Sentence = fmt.Sprintf("%s used %s; about %s of it went into lugging. Nothing worth changing here.", subject, figure(used, u.energy), figure(loss, u.energy))
		if loss.HoldsZero() {
			a.Aside = "The doubt about that loss reaches down to nothing, so it is no reason to ride otherwise."
		}
	default:
		a.Sentence = fmt.Sprintf("%s used %s, and lost %s of it to lugging: %s.", subject, figure(used, u.energy), figure(loss, u.energy), percent(loss.Value/used.Value))
		if h.RangeGainKm.Value > 0 {
			a.Sentence += fmt.Sprintf(" Better gears would carry a full battery up to %s further.", figure(h.RangeGainKm, u.km()))
		}
	}
}

// fixedRatio tells what a hub motor did, and what the same motor driving through
// the gears would have used where the ride was replayed so.
func fixedRatio(h analysis.Headline, all []*view, u units) string {
	s := "Gears cannot change how a hub motor runs."
	if finite(h.LuggingShare) {
		s = fmt.Sprintf("The hub motor turned too slowly for its power in %s of the time in which it worked, and gears cannot change that.", percent(h.LuggingShare))
	}
	through, hub := 0.0, 0.0
	for _, v := range all {
		for _, x := range v.Replays {
			if x.Kind == replay.MidMotor && finite(x.BatteryWh) {
				through += x.BatteryWh
				hub += v.Headline.BatteryWh.Value
			}
		}
	}
	if through > 0 && finite(hub) {
		s += fmt.Sprintf(" The same motor driving through the gears would have used %s.", figure(doubt.Figure{Value: through, Low: through, High: through}, u.energy))
	}
	return s
}

// sentenceOr is the reason of a verdict, or another where it has none.
func sentenceOr(v analysis.Verdict, why string) string {
	if s := v.Sentence(); s != "" {
		return s
	}
	return upperFirst(why) + "."
}

func headFigures(h analysis.Headline, bears analysis.Bearing, all []*view, u units) []headFigure {
	used := newHeadFigure("Used", h.BatteryWh, u.energy, reasonOr(bears.Energy, whyUsed(all)))
	used.Label = "Out of the battery"
	if finite(h.WhPerKm.Value) {
		used.Note = figure(h.WhPerKm, u.perDistance)
	}
	lost := newHeadFigure("Lost to lugging", h.LuggingLossWh, u.energy, reasonOr(bears.Loss, whyLoss(all)))
	if finite(h.RangeGainKm.Value) && h.RangeGainKm.Value > 0 {
		lost.Note = "worth " + figure(h.RangeGainKm, u.km()) + " of range"
		if in := interval(h.RangeGainKm, u.km()); in != "" {
			lost.Note += ", " + in
		}
	}
	hot := newHeadFigure("Hottest winding", h.WindingPeakC, u.temperature, reasonOr(bears.Drive, whyLoss(all)))
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

// legFigures are what a log without a motor tells: how much of the pedalling has
// a gear, how the legs turned, and what they gave.
func legFigures(h analysis.Headline, bears analysis.Bearing, all []*view, u units) []headFigure {
	named, pedalled := pedalling(all)
	known := headFigure{Label: "Gear known", Value: percent(float64(named) / float64(pedalled)), Note: "of the time pedalling", Basis: doubt.Derived.String()}
	if !bears.Gears.Given() {
		known = headFigure{Label: known.Label, Value: unknown, Why: bears.Gears.Why}
	}
	var turned [drive.LegsClassCount]int
	for _, v := range all {
		for c, seconds := range v.Legs {
			turned[c] += seconds
		}
	}
	pushing := turned[drive.LegsLugging] + turned[drive.LegsInBand] + turned[drive.LegsSpinning]
	legs := headFigure{Label: "Legs in their band", Value: unknown, Why: "the log does not tell how fast the legs turned while they pushed"}
	if pushing > 0 {
		band := all[0].Bike.Legs.BandRPM
		legs = headFigure{Label: legs.Label, Value: percent(float64(turned[drive.LegsInBand]) / float64(pushing)), Basis: doubt.Derived.String(),
			Note: fmt.Sprintf("of the time pushing; %s slower than %.0f turns a minute", percent(float64(turned[drive.LegsLugging])/float64(pushing)), band[0])}
	}
	return []headFigure{known, legs, newHeadFigure("Legs gave", h.RiderWh, u.energy, bears.Rider.Why)}
}

// pedalling counts the seconds with turning legs, and those of them whose gear is
// known.
func pedalling(all []*view) (named, pedalled int) {
	for _, v := range all {
		named += v.Gears.NamedSeconds
		pedalled += v.Gears.PedallingSeconds
	}
	return named, pedalled
}

// reasonOr is the clause of a verdict, or another where it has none.
func reasonOr(v analysis.Verdict, why string) string {
	if v.Given() {
		return why
	}
	return v.Why
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

// things words what to do: the habits that are worth telling, dearest first, then
// the dearest single spots.
func things(advised []shifts.Habit, all []*view, u units) []thing {
	var list []thing
	for _, h := range advised {
		if len(list) == 3 {
			return list
		}
		if h.Advice == "" {
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
			if !analysis.WorthAlone(s.Saving) || coveredBy(list, v.id, s) {
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
	text := "saves up to " + figure(f, u.energy)
	if in := interval(f, u.energy); in != "" {
		text += ", " + in
	}
	return text
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
