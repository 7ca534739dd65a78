package analysis

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/evidence"
	"cogledger/analysis/gears"
	"cogledger/analysis/ledger"
	"cogledger/analysis/replay"
	"cogledger/analysis/shifts"
	"cogledger/ingest/ride"
)

// A Bearing is what a log on a bike can bear: for each kind of claim, whether it
// may be made. It is decided here and nowhere else. What a ride cannot bear is
// NaN, or empty, in its Result.
type Bearing struct {
	Motor  Verdict // that there was a motor, and what it did second by second
	Rider  Verdict // what the rider's legs gave
	Gears  Verdict // which gear was in use
	Energy Verdict // what the battery gave, Wh/km
	Drive  Verdict // where it went in the drive, and how hot the winding got
	Loss   Verdict // what lugging cost, and the range it took
	Advice Verdict // what to do: habits, moments, plan
}

// A Verdict is whether something may be told. The zero value says yes.
type Verdict struct {
	Why  string // not empty: why it may not be told, a clause without a full stop
	Cure string // what would mend it, a clause; empty where nothing can
}

// Given reports whether the claim may be made.
func (v Verdict) Given() bool { return v.Why == "" }

// Sentence is the reason and the cure, to stand on its own; empty where the
// claim is given.
func (v Verdict) Sentence() string {
	switch {
	case v.Given():
		return ""
	case v.Cure == "":
		return upperFirst(v.Why) + "."
	}
	return upperFirst(v.Why) + ". " + upperFirst(v.Cure) + "."
}

// What a claim needs. A figure over a ride of which less than half is known
// would be a figure of the other half: common practice.
const (
	leastKnown       = 0.5 // share of the moving seconds whose battery power is known, or whose class is
	leastNamed       = 0.5 // share of the pedalling seconds whose gear is known
	leastPedalled    = 0.1 // share of the moving seconds in which cadence shows the legs turning
	leastPowered     = 0.5 // share of the pedalling seconds in which the rider's power is logged
	leastMotorShown  = 0.005
	climbGrade       = 0.03 // rise over run on which the road's demand is the hill's
	leastClimbS      = 60   // s of such climbing
	mostAlone        = 0.5  // share of a climb's demand under which legs cannot have done it alone
	leastMovingShown = 60   // s of movement under which nothing is told of a ride
)

// What makes a saving worth a word, common practice: WorthShare of the battery's
// energy, and worthWh over the rides looked at.
const (
	WorthShare = 0.01
	worthWh    = 0.2
)

// bears decides what the ride can bear, from its channels second by second, the
// gears found and the drive worked out.
func (s stages) bears(p *bike.Profile, m physics, h Headline, found []evidence.Contradiction) Bearing {
	for _, source := range s.ride.Sources {
		if source.Sport != "" {
			v := Verdict{Why: fmt.Sprintf("the log says that it is not of cycling (%s)", source.Sport), Cure: "if it is a ride after all, set its sport to cycling in the device or the file"}
			return Bearing{v, v, v, v, v, v, v}
		}
	}
	b := Bearing{Rider: s.ridersPower(), Gears: s.gearsKnown(p)}
	b.Motor = s.motorShown(m)
	b.Energy = b.Motor
	if m.drive.Knowledge == drive.FromRoad && b.Energy.Given() {
		b.Energy = s.fromRoad(p, b)
	}
	switch {
	case !b.Energy.Given():
	case !s.ride.Has(ride.Speed):
		b.Energy = noSpeed()
	case h.MovingSeconds < leastMovingShown:
		b.Energy = Verdict{Why: fmt.Sprintf("the bike moves for only %d s of this log", h.MovingSeconds)}
	default:
		if known := knownShare(m.drive.Terminal, m.road.Moving); known < leastKnown {
			b.Energy = Verdict{Why: fmt.Sprintf("what the battery gave is known for only %s of the riding", percent(known)), Cure: s.cureEnergy(b.Gears)}
		}
	}
	for _, c := range found {
		if v := (Verdict{Why: c.Note.Text, Cure: c.Note.Cure}); c.Against == evidence.Energy && b.Energy.Given() {
			b.Energy = v
		}
	}
	b.Drive = b.Energy
	for _, c := range found {
		if v := (Verdict{Why: c.Note.Text, Cure: c.Note.Cure}); c.Against == evidence.Drive && b.Drive.Given() {
			b.Drive = v
		}
	}
	if guessed := p.GuessedMotor(); p.Drive.Kind == bike.Hub && len(guessed) > 0 {
		v := Verdict{
			Why:  "the profile does not say what motor is in the wheel (" + strings.Join(guessed, ", ") + "), and no default stands for it",
			Cure: "write them into the profile, from the motor's data sheet or a bench test",
		}
		if b.Drive.Given() {
			b.Drive = v
		}
		if b.Energy.Given() && m.drive.Knowledge != drive.FromBattery {
			b.Energy = v
		}
	}
	switch b.Loss = b.Drive; {
	case !b.Loss.Given():
	case p.Drive.Kind != bike.Mid:
		b.Loss = Verdict{Why: "the motor drives the wheel through one fixed ratio: gears change how the legs turn, and cannot change how the motor runs"}
	case !b.Gears.Given():
		b.Loss = b.Gears
	case h.ClassedShare < leastKnown:
		b.Loss = Verdict{Why: fmt.Sprintf("how the motor ran is known for only %s of the riding", percent(h.ClassedShare)), Cure: b.Gears.Cure}
	}
	b.Advice = b.Loss
	return b
}

// fromRoad asks whether what the motor gave can be worked out as what the road
// asked less what the legs gave: both must be there, and the motor's speed, which
// for a mid drive is in the gear.
func (s stages) fromRoad(p *bike.Profile, b Bearing) Verdict {
	switch {
	case !s.ride.Has(ride.Altitude):
		return Verdict{Why: "the log holds neither battery volts and amperes nor the motor's power, and no altitude to work it out from", Cure: "join the drive's own log with --join, or record battery volts and amperes"}
	case !b.Rider.Given():
		return Verdict{Why: "the log holds neither battery volts and amperes nor the motor's power, and " + b.Rider.Why + ", so what the motor gave cannot be told apart from what the legs gave", Cure: "join the drive's own log with --join, or fit a power meter"}
	case p.Drive.Kind == bike.Mid && !b.Gears.Given():
		return b.Gears
	}
	return Verdict{}
}

// cureEnergy says what to log so that the battery's side is known.
func (s stages) cureEnergy(g Verdict) string {
	if s.ride.Has(ride.BatteryAmps) || s.ride.Has(ride.MotorPower) {
		return "check the drive's logger: most of the ride holds no reading of it"
	}
	return g.Cure
}

func noSpeed() Verdict {
	return Verdict{Why: "the log holds no speed, so neither gears nor energy over the road are known", Cure: "join a second log that has speed with --join"}
}

// ridersPower asks whether the power of the legs was logged while they turned.
func (s stages) ridersPower() Verdict {
	watts, rpm := s.ride.Column(ride.RiderPower), s.ride.Column(ride.CadenceRPM)
	if watts == nil {
		return Verdict{Why: "the log holds no power of the rider", Cure: "fit a power meter, or take what the legs gave as not known"}
	}
	turning := slices.ContainsFunc(rpm, func(v float64) bool { return v > 0 })
	told, turned := 0, 0
	for i := range s.ride.Len() {
		if s.ride.Paused(i) || turning && !(rpm[i] > 0) {
			continue
		}
		turned++
		if !math.IsNaN(watts[i]) {
			told++
		}
	}
	if known := share(told, turned); known < leastPowered {
		return Verdict{Why: fmt.Sprintf("the rider's power is logged in only %s of the riding", percent(known)), Cure: "check the power meter"}
	}
	return Verdict{}
}

// gearsKnown asks whether enough pedalling has a gear.
func (s stages) gearsKnown(p *bike.Profile) Verdict {
	f := s.gears
	rpm, moving, turning := s.ride.Column(ride.CadenceRPM), 0, 0
	for i := range s.ride.Len() {
		if s.ride.Paused(i) || !(s.ride.At(ride.Speed, i) > 0.8) {
			continue
		}
		moving++
		if rpm != nil && rpm[i] > 0 {
			turning++
		}
	}
	switch {
	case !s.ride.Has(ride.Speed):
		return noSpeed()
	case rpm == nil:
		return Verdict{Why: "the log holds no cadence, so the gears in use are not known", Cure: "fit a cadence sensor, or join a second log that has one"}
	case share(turning, moving) < leastPedalled:
		return Verdict{Why: fmt.Sprintf("cadence shows the legs turning in only %s of the riding, so the gears in use are not known", percent(share(turning, moving))), Cure: "check the cadence sensor"}
	case f.Mismatch.Found:
		return Verdict{Why: "the gears of the profile are not those of the bike that was ridden: " + f.Mismatch.Sentence, Cure: f.Mismatch.Cure}
	case f.PedallingSeconds == 0:
		return Verdict{Why: "nowhere in the log do the cranks turn while the bike rolls", Cure: "check the cadence and speed sensors"}
	case f.NamedShare() < leastNamed:
		return Verdict{
			Why:  fmt.Sprintf("the gear is known in only %s of the pedalling", percent(f.NamedShare())),
			Cure: fmt.Sprintf("check that the profile %q has the teeth and the tyre of the bike that was ridden, or let bike learn find them", p.Name),
		}
	}
	return Verdict{}
}

// motorShown asks whether the log shows a motor at all. A channel of the drive
// shows it where it is not zero throughout. Without one, climbs show it where the
// rider's power is logged and falls far short of what the road asked: recorded rides
// of road bikes, taken for the far heavier example bike, stay at two thirds.
func (s stages) motorShown(m physics) Verdict {
	for _, c := range []ride.Channel{ride.BatteryAmps, ride.MotorPower, ride.MotorRPM, ride.AssistLevel} {
		if s.shows(c) {
			return Verdict{}
		}
	}
	if v := s.ridersPower(); !v.Given() {
		return Verdict{
			Why:  "nothing in this log tells what a motor did: it holds no battery volts and amperes, no motor power and no assist level, and " + v.Why,
			Cure: "join the drive's own log with --join, or record battery volts and amperes",
		}
	}
	asked, given, seconds := 0.0, 0.0, 0
	for i, moving := range m.road.Moving {
		legs, demand := s.ride.At(ride.RiderPower, i), m.road.Demand[i]
		if !moving || !(m.road.Grade[i] >= climbGrade) || !(demand > 0) || math.IsNaN(legs) {
			continue
		}
		asked, given, seconds = asked+demand, given+legs, seconds+1
	}
	switch {
	case seconds < leastClimbS:
		return Verdict{
			Why:  "nothing in this log shows a motor at work: it holds no battery volts and amperes, no motor power and no assist level, and too little climbing to tell from the rider's power",
			Cure: "join the drive's own log with --join, or record battery volts and amperes",
		}
	case given > mostAlone*asked:
		return Verdict{
			Why:  fmt.Sprintf("nothing in this log shows a motor at work: no channel of a drive is in it, and on its climbs the legs alone gave %s of what the road asked", percent(given/asked)),
			Cure: "if a motor helped, join the drive's own log with --join",
		}
	}
	return Verdict{}
}

// shows reports whether a channel of the drive holds more than zeros.
func (s stages) shows(c ride.Channel) bool {
	column := s.ride.Column(c)
	told := 0
	for _, v := range column {
		if math.Abs(v) > 0 {
			told++
		}
	}
	return share(told, len(column)) > leastMotorShown
}

// withhold takes out of the result what the log cannot bear, so that whoever
// shows it, stores it or adds it up has nothing to ask.
func (res *Result) withhold() {
	h, nan := &res.Headline, math.NaN()
	unknown := func(all ...*doubt.Figure) {
		for _, f := range all {
			f.Value, f.Low, f.High = nan, nan, nan
		}
	}
	if !res.Bears.Rider.Given() {
		unknown(&h.RiderWh)
	}
	if !res.Bears.Motor.Given() {
		res.Drive.ForgetMotor()
		res.Books, res.Rule = ledger.Books{}, nil
	}
	if !res.Bears.Energy.Given() {
		unknown(&h.BatteryWh, &h.WhPerKm)
	}
	if !res.Bears.Drive.Given() {
		unknown(&h.WindingPeakC)
		res.Books, res.Rule, res.Replays, res.Fittings = ledger.Books{}, nil, nil, nil
	}
	if !res.Bears.Loss.Given() {
		unknown(&h.LuggingLossWh, &h.RangeGainKm)
		for i := range res.LuggingLossW {
			res.LuggingLossW[i] = nan
		}
	}
	if !res.Bears.Drive.Given() || h.ClassedShare < leastKnown {
		h.LuggingShare = nan
	}
	if !res.Bears.Advice.Given() {
		unknown(&h.PlanSavingWh, &res.Plan.Saving)
		res.Moments = nil
		for i := range res.Plan.Gear {
			res.Plan.Gear[i], res.Plan.Terminal[i] = gears.Unknown, nan
		}
		for i := range res.Habits {
			x := &res.Habits[i]
			unknown(&x.Cost)
			x.Count, x.Opportunities, x.Seconds, x.Ends, x.Delays = 0, 0, nil, nil, nil
			x.RangeKm, x.DelayS = nan, nan
			x.Advice, x.Measurable, x.Carried = "", false, false
		}
	}
}

// together is the bearing of several rides: what those bear that hold at least
// half of the moving time, and else the reason of the longest that does not.
func together(rides []*Result) Bearing {
	pick := func(of func(Bearing) Verdict) Verdict {
		all, given, longest := 0, 0, -1
		var why Verdict
		for _, res := range rides {
			v, s := of(res.Bears), res.Headline.MovingSeconds
			all += s
			if v.Given() {
				given += s
			} else if s > longest {
				longest, why = s, v
			}
		}
		if longest < 0 || share(given, all) >= leastKnown {
			return Verdict{}
		}
		return why
	}
	return Bearing{
		Motor:  pick(func(b Bearing) Verdict { return b.Motor }),
		Rider:  pick(func(b Bearing) Verdict { return b.Rider }),
		Gears:  pick(func(b Bearing) Verdict { return b.Gears }),
		Energy: pick(func(b Bearing) Verdict { return b.Energy }),
		Drive:  pick(func(b Bearing) Verdict { return b.Drive }),
		Loss:   pick(func(b Bearing) Verdict { return b.Loss }),
		Advice: pick(func(b Bearing) Verdict { return b.Advice }),
	}
}

// Worth reports whether a saving is worth a word: its interval does not hold
// zero, and it is neither tiny beside what the battery gave nor in itself. It is
// false for what is not known.
func Worth(saving doubt.Figure, usedWh float64) bool {
	return saving.Value >= WorthShare*math.Abs(usedWh) && WorthAlone(saving)
}

// WorthChanging reports whether better gears would save enough to be worth a
// word; known is false where that cannot be told, because nothing is known of the
// saving or because the interval of the loss holds both nothing and a saving that
// would be worth it.
func (h Headline) WorthChanging() (worth, known bool) {
	for _, saving := range []doubt.Figure{h.LuggingLossWh, h.PlanSavingWh} {
		known = known || !math.IsNaN(saving.Value)
		worth = worth || Worth(saving, h.BatteryWh.Value)
	}
	return worth, worth || known && !h.undecided()
}

func (h Headline) undecided() bool {
	loss, most := h.LuggingLossWh, h.LuggingLossWh
	most.Value, most.Low = loss.High, loss.High
	return loss.HoldsZero() && Worth(most, h.BatteryWh.Value)
}

// Undecided says why the rides do not tell whether better gears would save
// anything, though their cost is known; the zero verdict where they do.
func (h Headline) Undecided(p *bike.Profile) Verdict {
	if worth, known := h.WorthChanging(); worth || known || math.IsNaN(h.LuggingLossWh.Value) {
		return Verdict{}
	}
	v := Verdict{Why: "what lugging cost cannot be told from nothing", Cure: "longer rides, or a log with battery volts and amperes, would tell"}
	if n := len(p.Guesses()); n > 0 {
		v.Cure = fmt.Sprintf("%d values of the bike's profile are defaults that nobody has looked at: write in those of your motor, or let `cogledger bike learn` find them", n)
	}
	return v
}

// WorthFittings are the rings and cassettes that save a noticeable share, and more
// than the shifts of the plan are priced at: fittings are compared with shifts
// free, so what is smaller may be nothing but more shifting.
func (res *Result) WorthFittings() []replay.Fitting {
	if len(res.Fittings) == 0 {
		return nil
	}
	least := max(WorthShare*res.Fittings[0].BatteryWh, float64(res.Plan.Shifts)*res.Plan.PriceJ/joulesPerWh)
	var worth []replay.Fitting
	for _, x := range res.Fittings[1:] {
		if x.SavingWh >= least && x.SavingWh > 0 {
			worth = append(worth, x)
		}
	}
	return worth
}

// Advised picks, dearest first, the habits that carry an advice: the data bear
// it, and what it costs is worth a word. It is empty where nothing is worth
// changing.
func Advised(habits []shifts.Habit, h Headline) []shifts.Habit {
	if worth, _ := h.WorthChanging(); !worth {
		return nil
	}
	kept := slices.DeleteFunc(slices.Clone(habits), func(x shifts.Habit) bool {
		return !x.Carried || x.Count == 0 || !WorthAlone(x.Cost)
	})
	slices.SortStableFunc(kept, func(a, b shifts.Habit) int { return cmp.Compare(b.Cost.Value, a.Cost.Value) })
	return kept
}

// WorthAlone reports whether one thing to do saves enough to be told, where
// better gears are worth a word at all.
func WorthAlone(saving doubt.Figure) bool { return saving.Value >= worthWh && !saving.HoldsZero() }

// percent writes a share for a sentence.
func percent(share float64) string {
	if share < 0.1 {
		return fmt.Sprintf("%.1f\u00a0%%", 100*share)
	}
	return fmt.Sprintf("%.0f\u00a0%%", 100*share)
}

func upperFirst(s string) string {
	r, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[size:]
}
