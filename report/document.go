package report

import (
	"encoding/json"
	"math"

	"github.com/invopop/jsonschema"
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
	Trend       DocumentTrend     `json:"trend" jsonschema:"description=from week to week"`
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
	Name      string          `json:"name"`
	Source    string          `json:"source" jsonschema:"description=file names; empty in a private report"`
	Made      bool            `json:"made" jsonschema:"description=the log says that it was simulated"`
	Start     *string         `json:"start" jsonschema:"nullable,description=RFC 3339; null when unknown or private"`
	DurationS int             `json:"duration_s"`
	MovingS   int             `json:"moving_s"`
	DistanceM Number          `json:"distance_m"`
	AscentM   Number          `json:"ascent_m"`
	Channels  []string        `json:"channels"`
	Bears     DocumentBearing `json:"bears"`
	Knowledge string          `json:"motor_known_from" jsonschema:"enum=battery,enum=motor power,enum=road"`
	Warnings  []string        `json:"warnings"`

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
	Policy                    DocumentPolicy    `json:"policy" jsonschema:"description=what a rule without foresight gives"`
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
	Low     Number `json:"low" jsonschema:"description=lower end of its 90 % interval"`
	High    Number `json:"high" jsonschema:"description=upper end"`
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
	SavingWh     DocumentFigure `json:"saving_wh" jsonschema:"description=the most that shifting could give\\, knowing the whole road; below zero where the plan spends energy for the legs"`
	EnergyWh     Number         `json:"energy_wh" jsonschema:"description=of it what a rider gets who follows the plan only where it saves"`
	LegsOutS     int            `json:"legs_out_s" jsonschema:"description=planned seconds with the legs out of their band"`
	LegsOutWasS  int            `json:"legs_out_ridden_s" jsonschema:"description=the same seconds as ridden"`
	ForLegs      bool           `json:"for_legs" jsonschema:"description=the plan costs energy for the legs' sake and is no saving"`
}

// A DocumentPolicy is the rule of two cadences that serves the rider best
// without foresight.
type DocumentPolicy struct {
	Worth    bool           `json:"worth" jsonschema:"description=false where no rule is worth more than riding as before"`
	LowRPM   Number         `json:"shift_down_below_rpm"`
	HighRPM  Number         `json:"shift_up_above_rpm"`
	SavingWh DocumentFigure `json:"saving_wh" jsonschema:"description=cross-validated: each part valued with the rule chosen on the others"`
	Parts    int            `json:"parts" jsonschema:"description=rides\\, or halves of the one ride"`
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
	Story        []DocumentStep `json:"story" jsonschema:"description=the plan's gears in order"`
	BeforeStop   bool           `json:"before_stop" jsonschema:"description=the first gear is taken while the cranks still turn before a stand"`
	MotorRPMFrom Number         `json:"motor_rpm_from"`
	MotorRPMTo   Number         `json:"motor_rpm_to"`
	CadenceFrom  Number         `json:"cadence_from"`
	CadenceTo    Number         `json:"cadence_to"`
	WindingDropK Number         `json:"winding_drop_k"`
	SavingWh     DocumentFigure `json:"saving_wh"`
	Advised      bool           `json:"advised" jsonschema:"description=false when the interval of the saving holds zero"`
}

// A DocumentStep is one gear of a moment.
type DocumentStep struct {
	AfterS  int           `json:"after_s" jsonschema:"description=since the moment began"`
	Seconds int           `json:"seconds"`
	Gear    *DocumentGear `json:"gear" jsonschema:"nullable"`
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

// A DocumentBearing is what the log can bear. What may not be claimed is null or
// empty elsewhere in the document.
type DocumentBearing struct {
	Motor  DocumentVerdict `json:"motor" jsonschema:"description=that there was a motor and what it did"`
	Rider  DocumentVerdict `json:"rider" jsonschema:"description=what the legs gave"`
	Gears  DocumentVerdict `json:"gears" jsonschema:"description=which gear was in use"`
	Energy DocumentVerdict `json:"energy" jsonschema:"description=what the battery gave"`
	Drive  DocumentVerdict `json:"drive" jsonschema:"description=where it went in the drive and how hot the winding got"`
	Loss   DocumentVerdict `json:"loss" jsonschema:"description=what lugging cost"`
	Advice DocumentVerdict `json:"advice" jsonschema:"description=what to do"`
}

// A DocumentVerdict is whether a claim may be made.
type DocumentVerdict struct {
	Given bool   `json:"given"`
	Why   string `json:"why" jsonschema:"description=why it may not be made; empty where it may"`
	Cure  string `json:"cure"`
}

// DocumentTotals are the figures over all rides.
type DocumentTotals struct {
	Rides         int             `json:"rides"`
	Bears         DocumentBearing `json:"bears"`
	DurationS     int             `json:"duration_s"`
	MovingS       int             `json:"moving_s"`
	DistanceM     Number          `json:"distance_m"`
	BatteryWh     DocumentFigure  `json:"battery_wh"`
	RiderWh       DocumentFigure  `json:"rider_wh"`
	WhPerKm       DocumentFigure  `json:"wh_per_km"`
	LuggingLossWh DocumentFigure  `json:"lugging_loss_wh"`
	RangeGainKm   DocumentFigure  `json:"range_gain_km"`
	PlanSavingWh  DocumentFigure  `json:"plan_saving_wh" jsonschema:"description=at most: it knows the whole road"`
	Policy        DocumentPolicy  `json:"policy" jsonschema:"description=what a rule without foresight gives"`
	WindingPeakC  DocumentFigure  `json:"winding_peak_c"`
	LuggingShare  Number          `json:"lugging_share"`
	Habits        []DocumentHabit `json:"habits"`
}
