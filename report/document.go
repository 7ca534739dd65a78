package report

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"github.com/invopop/jsonschema"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/ledger"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

// SchemaName is the value of the document's key "schema". Keys are added under
// the same name; a key is renamed or removed only under a new one.
const SchemaName = "cogledger/review/1"

// A Document is the review as JSON. Units are in the names of the keys; what
// is not known is null.
type Document struct {
	Schema      string            `json:"schema" jsonschema:"enum=cogledger/review/1"`
	Bike        DocumentBike      `json:"bike"`
	Rides       []DocumentRide    `json:"rides"`
	Assumptions []DocumentAssumed `json:"assumptions" jsonschema:"description=values that all rides rest on"`
	Totals      DocumentTotals    `json:"totals"`
	Warnings    []string          `json:"warnings" jsonschema:"description=what concerns the set of rides"`
}

// A Number is a float64 that is null in JSON when it is not known.
type Number float64

// MarshalJSON rounds to seven decimals, so that equal results make equal bytes.
func (n Number) MarshalJSON() ([]byte, error) {
	v := float64(n)
	if finite(v) {
		return json.Marshal(math.Round(v*1e7) / 1e7)
	}
	return []byte("null"), nil
}

// JSONSchema says that a number may be null.
func (Number) JSONSchema() *jsonschema.Schema {
	return &jsonschema.Schema{OneOf: []*jsonschema.Schema{{Type: "number"}, {Type: "null"}}}
}

// A DocumentFigure is a number with its 90 % interval.
type DocumentFigure struct {
	Value Number `json:"value"`
	Low   Number `json:"low"`
	High  Number `json:"high"`
	Basis string `json:"basis" jsonschema:"enum=measured,enum=derived,enum=modelled"`
}

// A DocumentBike names the bike.
type DocumentBike struct {
	Name           string    `json:"name"`
	Drive          string    `json:"drive" jsonschema:"enum=mid,enum=hub"`
	Chainrings     []int     `json:"chainrings"`
	Cogs           []int     `json:"cogs"`
	HubGears       []float64 `json:"hub_gears,omitempty"`
	CapacityWh     Number    `json:"battery_capacity_wh"`
	CircumferenceM Number    `json:"circumference_m"`
}

// A DocumentGear is one gear of the bike.
type DocumentGear struct {
	Front   int `json:"front" jsonschema:"description=teeth"`
	Rear    int `json:"rear" jsonschema:"description=teeth"`
	HubStep int `json:"hub_step,omitempty" jsonschema:"description=step of a gear hub from 1"`
}

// A DocumentRide is the review of one ride.
type DocumentRide struct {
	Name      string   `json:"name"`
	Source    string   `json:"source" jsonschema:"description=file names; empty in a private report"`
	Made      bool     `json:"made" jsonschema:"description=the log says that it was simulated"`
	Start     *string  `json:"start" jsonschema:"nullable,description=RFC 3339; null when unknown or private"`
	DurationS int      `json:"duration_s"`
	MovingS   int      `json:"moving_s"`
	DistanceM Number   `json:"distance_m"`
	AscentM   Number   `json:"ascent_m"`
	Channels  []string `json:"channels"`
	Knowledge string   `json:"motor_known_from" jsonschema:"enum=battery,enum=motor power,enum=road"`
	Warnings  []string `json:"warnings"`

	BatteryWh     DocumentFigure `json:"battery_wh"`
	RiderWh       DocumentFigure `json:"rider_wh"`
	WhPerKm       DocumentFigure `json:"wh_per_km"`
	LuggingLossWh DocumentFigure `json:"lugging_loss_wh"`
	RangeGainKm   DocumentFigure `json:"range_gain_km"`
	WindingPeakC  DocumentFigure `json:"winding_peak_c"`
	WindingLimitC Number         `json:"winding_limit_c"`
	LuggingShare  Number         `json:"lugging_share"`
	ClassedShare  Number         `json:"classed_share"`

	Ledger                    DocumentLedger    `json:"ledger"`
	Classes                   []DocumentClass   `json:"classes"`
	LegsClasses               []DocumentLegs    `json:"legs_classes"`
	BothLuggingS              int               `json:"both_lugging_s"`
	Gears                     []DocumentTally   `json:"gears"`
	GearKnownShare            Number            `json:"gear_known_share"`
	DevelopmentCircumferenceM Number            `json:"development_circumference_m"`
	Plan                      DocumentPlan      `json:"plan"`
	Moments                   []DocumentMoment  `json:"moments"`
	Habits                    []DocumentHabit   `json:"habits"`
	Replays                   []DocumentReplay  `json:"replays"`
	Rule                      []DocumentRule    `json:"rule" jsonschema:"description=the motor's band as the rider feels it\\, by motor power"`
	Fittings                  []DocumentFitting `json:"fittings" jsonschema:"description=other rings and cassettes\\, the bike as it is first"`
	Match                     *DocumentMatch    `json:"match" jsonschema:"nullable,description=how a second device's log was joined; null for a log by itself"`
	Starts                    []DocumentStart   `json:"starts" jsonschema:"description=start test in every gear"`
	Assumptions               []DocumentAssumed `json:"assumptions" jsonschema:"description=values that this ride rests on and others do not"`
}

// A DocumentLedger is both sides of the books.
type DocumentLedger struct {
	Battery           []DocumentAccount `json:"battery"`
	Wheel             []DocumentAccount `json:"wheel"`
	ResidualWh        Number            `json:"residual_wh" jsonschema:"description=sum of both sides' residuals without sign"`
	BatteryResidualWh Number            `json:"battery_residual_wh"`
	WheelResidualWh   Number            `json:"wheel_residual_wh"`
	UnbookedS         int               `json:"unbooked_s"`
	UnbookedWheelS    int               `json:"unbooked_wheel_s"`
}

// A DocumentAccount is one line of the books.
type DocumentAccount struct {
	Account string `json:"account"`
	Wh      Number `json:"wh"`
	Basis   string `json:"basis" jsonschema:"enum=measured,enum=derived,enum=modelled"`
}

// A DocumentClass is the time and energy in one class.
type DocumentClass struct {
	Class   string `json:"class" jsonschema:"enum=unknown,enum=stopped,enum=coasting,enum=resting,enum=lugging,enum=in band,enum=spinning out"`
	Seconds int    `json:"seconds"`
	Wh      Number `json:"wh"`
}

// A DocumentLegs is the time of the legs in one class.
type DocumentLegs struct {
	Class   string `json:"class" jsonschema:"enum=unknown,enum=still,enum=lugging,enum=in band,enum=spinning"`
	Seconds int    `json:"seconds"`
}

// A DocumentTally is what happened in one gear.
type DocumentTally struct {
	DocumentGear
	Seconds     int    `json:"seconds"`
	Wh          Number `json:"wh"`
	MotorRPM    Number `json:"mean_motor_rpm"`
	CadenceRPM  Number `json:"mean_cadence_rpm"`
	LuggingSecs int    `json:"lugging_s"`
}

// A DocumentPlan sums the plan up.
type DocumentPlan struct {
	Shifts       int            `json:"shifts"`
	ShiftsRidden int            `json:"shifts_ridden"`
	PriceJ       Number         `json:"price_j"`
	SavingWh     DocumentFigure `json:"saving_wh"`
}

// A DocumentMoment is a stretch in which another gear would have served better.
type DocumentMoment struct {
	AtS          *int           `json:"at_s" jsonschema:"nullable,description=null where hidden for privacy"`
	Seconds      int            `json:"seconds"`
	AtM          Number         `json:"at_m"`
	Lat          Number         `json:"lat"`
	Lon          Number         `json:"lon"`
	Grade        Number         `json:"grade"`
	From         *DocumentGear  `json:"from" jsonschema:"nullable"`
	To           *DocumentGear  `json:"to" jsonschema:"nullable"`
	MotorRPMFrom Number         `json:"motor_rpm_from"`
	MotorRPMTo   Number         `json:"motor_rpm_to"`
	CadenceFrom  Number         `json:"cadence_from"`
	CadenceTo    Number         `json:"cadence_to"`
	WindingDropK Number         `json:"winding_drop_k"`
	SavingWh     DocumentFigure `json:"saving_wh"`
	Advised      bool           `json:"advised" jsonschema:"description=false when the interval of the saving holds zero"`
}

// A DocumentHabit groups moments of one kind.
type DocumentHabit struct {
	Habit         string         `json:"habit"`
	Count         int            `json:"count"`
	Opportunities int            `json:"opportunities"`
	Wh            DocumentFigure `json:"wh"`
	Advice        string         `json:"advice"`
	Carried       bool           `json:"carried" jsonschema:"description=whether the data can carry the advice"`
}

// A DocumentReplay is the ride on another drive.
type DocumentReplay struct {
	Name          string `json:"name"`
	Kind          string `json:"kind"`
	Note          string `json:"note,omitempty"`
	BatteryWh     Number `json:"battery_wh"`
	CopperWh      Number `json:"copper_wh"`
	WindingPeakC  Number `json:"winding_peak_c"`
	FeasibleShare Number `json:"feasible_share"`
	SlowerBy      Number `json:"slower_by"`
	LongerS       Number `json:"longer_s"`
	OverLimitS    int    `json:"over_limit_s"`
	LegsOutShare  Number `json:"legs_out_share"`
	ReplayedShare Number `json:"replayed_share"`
}

// A DocumentAssumed is a value that the log did not give.
type DocumentAssumed struct {
	Name   string `json:"name"`
	Value  Number `json:"value"`
	Unit   string `json:"unit"`
	Source string `json:"source"`
}

// DocumentTotals are the figures over all rides.
type DocumentTotals struct {
	Rides         int             `json:"rides"`
	DurationS     int             `json:"duration_s"`
	MovingS       int             `json:"moving_s"`
	DistanceM     Number          `json:"distance_m"`
	BatteryWh     DocumentFigure  `json:"battery_wh"`
	RiderWh       DocumentFigure  `json:"rider_wh"`
	WhPerKm       DocumentFigure  `json:"wh_per_km"`
	LuggingLossWh DocumentFigure  `json:"lugging_loss_wh"`
	RangeGainKm   DocumentFigure  `json:"range_gain_km"`
	PlanSavingWh  DocumentFigure  `json:"plan_saving_wh"`
	WindingPeakC  DocumentFigure  `json:"winding_peak_c"`
	LuggingShare  Number          `json:"lugging_share"`
	Habits        []DocumentHabit `json:"habits"`
}

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
	d.Totals = totals(set)
	return d
}

func totals(set *analysis.Set) DocumentTotals {
	h, habits := set.Total, set.Habits
	if len(set.Rides) == 1 {
		h, habits = set.Rides[0].Headline, set.Rides[0].Habits
	}
	return DocumentTotals{
		Rides: len(set.Rides), DurationS: h.Seconds, MovingS: h.MovingSeconds, DistanceM: Number(h.Distance),
		BatteryWh: documentFigure(h.BatteryWh), RiderWh: documentFigure(h.RiderWh), WhPerKm: documentFigure(h.WhPerKm),
		LuggingLossWh: documentFigure(h.LuggingLossWh), RangeGainKm: documentFigure(h.RangeGainKm), PlanSavingWh: documentFigure(h.PlanSavingWh),
		WindingPeakC: documentFigure(h.WindingPeakC), LuggingShare: Number(h.LuggingShare), Habits: documentHabits(habits),
	}
}

func (v *view) document(o Options, shared []analysis.Assumption) DocumentRide {
	h := v.Headline
	r := DocumentRide{
		Name: v.name, Made: v.made(), DurationS: h.Seconds, MovingS: h.MovingSeconds, DistanceM: Number(h.Distance), AscentM: Number(h.Ascent),
		Channels: []string{}, Knowledge: [...]string{"battery", "motor power", "road"}[v.Drive.Knowledge], Warnings: warnings(notes(v.Notes, o, v.Ride.Sources)),
		BatteryWh: documentFigure(h.BatteryWh), RiderWh: documentFigure(h.RiderWh), WhPerKm: documentFigure(h.WhPerKm), LuggingLossWh: documentFigure(h.LuggingLossWh),
		RangeGainKm: documentFigure(h.RangeGainKm), WindingPeakC: documentFigure(h.WindingPeakC), WindingLimitC: Number(h.WindingLimitC),
		LuggingShare: Number(h.LuggingShare), ClassedShare: Number(h.ClassedShare),
		Ledger: DocumentLedger{Battery: accounts(v.Books.Battery), Wheel: accounts(v.Books.Wheel),
			ResidualWh:        Number(math.Abs(v.Books.BatteryResidual) + math.Abs(v.Books.WheelResidual)),
			BatteryResidualWh: Number(v.Books.BatteryResidual), WheelResidualWh: Number(v.Books.WheelResidual),
			UnbookedS: v.Books.UnbookedSeconds, UnbookedWheelS: v.Books.UnbookedWheelSeconds},
		BothLuggingS: v.BothLug, GearKnownShare: Number(v.Gears.NamedShare()), DevelopmentCircumferenceM: known(v.Gears.Circumference),
		Plan:   DocumentPlan{v.Plan.Shifts, v.Plan.ShiftsRidden, Number(v.Plan.PriceJ), documentFigure(v.Plan.Saving)},
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

func (v *view) documentMoment(m shifts.Moment) DocumentMoment {
	d := DocumentMoment{
		Seconds: m.To - m.From, AtM: Number(nan()), Lat: Number(nan()), Lon: Number(nan()), Grade: Number(m.Grade),
		From: v.gearAt(m.GearFrom), To: v.gearAt(m.GearTo), MotorRPMFrom: Number(m.MotorRPMFrom), MotorRPMTo: Number(m.MotorRPMTo),
		CadenceFrom: Number(m.CadenceFrom), CadenceTo: Number(m.CadenceTo), WindingDropK: Number(m.WindingDropK),
		SavingWh: documentFigure(m.Saving), Advised: m.Advised,
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
		all = append(all, DocumentAccount{a.Name, Number(a.Wh), a.Basis.String()})
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
