package report

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/ledger"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

// JSON writes the review as one document.
func JSON(w io.Writer, set *analysis.Set, o Options) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	if err := e.Encode(NewDocument(set, o)); err != nil {
		return fmt.Errorf("report: JSON: %w", err)
	}
	return nil
}

// NewDocument puts the review into the published form.
func NewDocument(set *analysis.Set, o Options) Document {
	all := views(set, o)
	d := Document{Schema: SchemaName, Rides: []DocumentRide{}, Assumptions: []DocumentAssumed{}, Warnings: warnings(notes(set.Notes, o, nil))}
	if b := set.Bike; b != nil {
		d.Bike = DocumentBike{Name: b.Name, Drive: string(b.Drive.Kind), Chainrings: listed(b.Drivetrain.Chainrings), Cogs: listed(b.Drivetrain.Cogs),
			HubGears: b.Drivetrain.HubGears, CapacityWh: Number(b.Battery.CapacityWh), CircumferenceM: Number(b.Circumference())}
	}
	var shared []analysis.Assumption
	if len(all) > 0 {
		shared = sharedAssumptions(all)
	}
	d.Assumptions = assumed(shared)
	for _, v := range all {
		d.Rides = append(d.Rides, v.document(o, shared))
	}
	d.Totals, d.Trend = totals(set), documentTrend(set.Trend, o)
	return d
}

func totals(set *analysis.Set) DocumentTotals {
	h, bears, habits := set.Total, set.Bears, set.Habits
	if len(set.Rides) == 1 {
		h, bears, habits = set.Rides[0].Headline, set.Rides[0].Bears, set.Rides[0].Habits
	}
	return DocumentTotals{
		Rides: len(set.Rides), Bears: documentBearing(bears), DurationS: h.Seconds, MovingS: h.MovingSeconds, DistanceM: Number(h.Distance),
		BatteryWh: documentFigure(h.BatteryWh), RiderWh: documentFigure(h.RiderWh), WhPerKm: documentFigure(h.WhPerKm),
		LuggingLossWh: documentFigure(h.LuggingLossWh), RangeGainKm: documentFigure(h.RangeGainKm), PlanSavingWh: documentFigure(h.PlanSavingWh), Policy: documentPolicy(set.Found),
		WindingPeakC: documentFigure(h.WindingPeakC), LuggingShare: Number(h.LuggingShare), Habits: documentHabits(habits),
	}
}

func (v *view) document(o Options, shared []analysis.Assumption) DocumentRide {
	h := v.Headline
	r := DocumentRide{
		Name: v.name, Made: v.made(), DurationS: h.Seconds, MovingS: h.MovingSeconds, DistanceM: Number(h.Distance), AscentM: Number(h.Ascent),
		Channels: []string{}, Bears: documentBearing(v.Bears), Knowledge: [...]string{"battery", "motor power", "road"}[v.Drive.Knowledge], Warnings: warnings(notes(v.Notes, o, v.Ride.Sources)),
		BatteryWh: documentFigure(h.BatteryWh), RiderWh: documentFigure(h.RiderWh), WhPerKm: documentFigure(h.WhPerKm), LuggingLossWh: documentFigure(h.LuggingLossWh),
		RangeGainKm: documentFigure(h.RangeGainKm), WindingPeakC: documentFigure(h.WindingPeakC), WindingLimitC: Number(h.WindingLimitC),
		LuggingShare: Number(h.LuggingShare), ClassedShare: Number(h.ClassedShare),
		Ledger: DocumentLedger{Battery: accounts(v.Books.Battery), Wheel: accounts(v.Books.Wheel),
			ResidualWh:        Number(math.Abs(v.Books.BatteryResidual) + math.Abs(v.Books.WheelResidual)),
			BatteryResidualWh: Number(v.Books.BatteryResidual), WheelResidualWh: Number(v.Books.WheelResidual),
			UnbookedS: v.Books.UnbookedSeconds, UnbookedWheelS: v.Books.UnbookedWheelSeconds},
		BothLuggingS: v.BothLug, GearKnownShare: Number(v.Gears.NamedShare()), DevelopmentCircumferenceM: known(v.Gears.Circumference),
		Plan:   DocumentPlan{v.Plan.Shifts, v.Plan.ShiftsRidden, Number(v.Plan.PriceJ), documentFigure(v.Plan.Saving), Number(v.Plan.EnergyWh), v.Plan.LegsOutS, v.Plan.LegsOutRidden, v.Plan.ForLegs()},
		Policy: documentPolicy(v.Found),
		Habits: documentHabits(v.Habits), Assumptions: assumed(without(v.Assumptions, shared)),
		Classes: []DocumentClass{}, LegsClasses: []DocumentLegs{}, Gears: []DocumentTally{}, Moments: []DocumentMoment{}, Replays: []DocumentReplay{},
		Rule: v.documentRule(), Fittings: v.documentFittings(), Starts: v.documentStarts(), Match: v.documentMatch(),
	}
	if !o.Privacy {
		r.Source = sourceNames(v.Ride.Sources)
		if !v.Ride.Start.IsZero() {
			start := v.Ride.Start.UTC().Format(time.RFC3339)
			r.Start = &start
		}
	}
	for _, c := range v.Ride.Channels() {
		r.Channels = append(r.Channels, c.String())
	}
	for c := range drive.ClassCount {
		r.Classes = append(r.Classes, DocumentClass{c.String(), v.Classes[c].Seconds, Number(v.Classes[c].Wh)})
	}
	for c := range drive.LegsClassCount {
		r.LegsClasses = append(r.LegsClasses, DocumentLegs{c.String(), v.Legs[c]})
	}
	for _, g := range v.PerGear {
		r.Gears = append(r.Gears, DocumentTally{documentGear(g.Gear), g.Seconds, Number(g.Wh), Number(g.MeanMotorRPM), Number(g.MeanCadence), g.LuggingSeconds})
	}
	for _, m := range v.Moments {
		r.Moments = append(r.Moments, v.documentMoment(m))
	}
	for _, x := range v.Replays {
		r.Replays = append(r.Replays, DocumentReplay{x.Name, x.Kind, x.Note, Number(x.BatteryWh), Number(x.CopperWh), Number(x.WindingPeakC),
			Number(x.FeasibleShare), Number(x.SlowerBy), Number(x.LongerS), x.OverLimitS, Number(x.LegsOutShare), Number(x.ReplayedShare)})
	}
	return r
}

func documentPolicy(rule shifts.Rule) DocumentPolicy {
	p := DocumentPolicy{rule.Worth, Number(rule.LowRPM), Number(rule.HighRPM), documentFigure(rule.Saving), rule.Parts}
	if !rule.Worth {
		p.LowRPM, p.HighRPM = Number(nan()), Number(nan())
	}
	return p
}

func (v *view) documentMoment(m shifts.Moment) DocumentMoment {
	d := DocumentMoment{
		Seconds: m.To - m.From, AtM: Number(nan()), Lat: Number(nan()), Lon: Number(nan()), Grade: Number(m.Grade),
		From: v.gearAt(m.GearFrom), To: v.gearAt(m.GearTo), MotorRPMFrom: Number(m.MotorRPMFrom), MotorRPMTo: Number(m.MotorRPMTo),
		CadenceFrom: Number(m.CadenceFrom), CadenceTo: Number(m.CadenceTo), WindingDropK: Number(m.WindingDropK),
		SavingWh: documentFigure(m.Saving), Advised: m.Advised, Story: []DocumentStep{}, BeforeStop: m.BeforeStop,
	}
	for _, step := range m.Story {
		d.Story = append(d.Story, DocumentStep{step.From - m.From, step.To - step.From, v.gearAt(step.Gear)})
	}
	if v.shows(m.From) {
		at := m.From
		d.AtS, d.AtM = &at, Number(m.StartM)
		if lat, lon := v.position(m.From); finite(lat) && finite(lon) {
			d.Lat, d.Lon = Number(m.Lat), Number(m.Lon)
		}
	}
	return d
}

func (v *view) gearAt(index int) *DocumentGear {
	if index < 0 || index >= len(v.gears) {
		return nil
	}
	g := documentGear(v.gears[index])
	return &g
}

func documentGear(g bike.Gear) DocumentGear { return DocumentGear{g.Front, g.Rear, g.HubStep} }

func documentFigure(f doubt.Figure) DocumentFigure {
	return DocumentFigure{Number(f.Value), Number(f.Low), Number(f.High), f.Basis.String()}
}

func documentBearing(b analysis.Bearing) DocumentBearing {
	verdict := func(v analysis.Verdict) DocumentVerdict { return DocumentVerdict{v.Given(), v.Why, v.Cure} }
	return DocumentBearing{verdict(b.Motor), verdict(b.Rider), verdict(b.Gears), verdict(b.Energy), verdict(b.Drive), verdict(b.Loss), verdict(b.Advice)}
}

func documentHabits(list []shifts.Habit) []DocumentHabit {
	all := []DocumentHabit{}
	for _, h := range list {
		all = append(all, DocumentHabit{h.Kind, h.Count, h.Opportunities, documentFigure(h.Cost), h.Advice, h.Carried})
	}
	return all
}

func accounts(list []ledger.Account) []DocumentAccount {
	all := []DocumentAccount{}
	for _, a := range list {
		all = append(all, DocumentAccount{a.Name, Number(a.Wh), Number(a.Low), Number(a.High), a.Basis.String()})
	}
	return all
}

func assumed(list []analysis.Assumption) []DocumentAssumed {
	all := []DocumentAssumed{}
	for _, a := range list {
		all = append(all, DocumentAssumed{a.Name, Number(a.Value), a.Unit, a.Source})
	}
	return all
}

func warnings(list []note) []string {
	all := []string{}
	for _, n := range list {
		text := n.Text
		if n.Rest != "" {
			text = strings.TrimSuffix(text, "…") + n.Rest
		}
		all = append(all, ride.Note{Place: n.Where, Text: text, Cure: n.Cure}.String())
	}
	return all
}

func sourceNames(list []ride.Source) string {
	names := ""
	for k, s := range list {
		if k > 0 {
			names += " + "
		}
		names += s.File
	}
	return names
}

func listed(list []int) []int {
	if list == nil {
		return []int{}
	}
	return list
}

// known turns a zero that stands for "none" into null.
func known(v float64) Number {
	if v == 0 {
		return Number(nan())
	}
	return Number(v)
}
