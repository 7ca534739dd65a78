package made

import (
	"encoding/json"
	"math"
	"strconv"
)

// An Account is where energy came from or went to.
type Account int

// The accounts. On the battery's side Stored equals the sum of BatteryHeat to
// Delivered. On the wheel's side Delivered and Legs less LegsChain equal the
// sum of Air to Brakes.
const (
	Stored      Account = iota // chemical energy out of the cells
	BatteryHeat                // open-circuit voltage less terminal voltage, times current
	Controller
	Copper
	Drag      // iron, bearings and windage of the motor
	Rotor     // into the rotor's spin; comes back, or ends as drag
	Reduction // gears between motor and chainring or wheel
	Chain     // the motor's share of chain and gear hub
	Delivered // by the motor at the wheel
	Legs      // by the rider at the crank
	LegsChain // the rider's share of chain and gear hub
	Air       // of the wheel's side, against the wind that blew
	Rolling   // tyres
	Bearings  // of the wheels
	Climbing  // into height
	Kinetic   // into speed
	Brakes    // into heat at the brakes
	AccountCount
)

func (a Account) String() string {
	return [...]string{
		"stored", "battery heat", "controller", "copper", "drag", "rotor", "reduction", "chain", "delivered",
		"legs", "legs chain", "air", "rolling", "bearings", "climbing", "kinetic", "brakes",
	}[a]
}

// A Column has one value for each second; second i is [i, i+1).
type Column []float64

// MarshalJSON writes three decimals: a truth file is read by eye too.
func (c Column) MarshalJSON() ([]byte, error) {
	out := make([]byte, 0, 8*len(c)+2)
	out = append(out, '[')
	for i, v := range c {
		if i > 0 {
			out = append(out, ',')
		}
		out = strconv.AppendFloat(out, math.Round(v*1000)/1000, 'f', -1, 64)
	}
	return append(out, ']'), nil
}

// The habits that a made rider can have, as planted.
const (
	TallGearStart   = "tall-gear start"
	LateDownShift   = "late down-shift"
	OneGearRiding   = "one-gear riding"
	FullAssistSteep = "full assist on steep ground"
	LoadedShift     = "shift under load"
)

// A Planted is one time that a habit showed: from the second in which a good
// rider would have done otherwise to the second in which it ended.
type Planted struct {
	Habit    string `json:"habit"`
	From     int    `json:"from_s"`
	To       int    `json:"to_s"`
	GearFrom int    `json:"gear_from"`
	GearTo   int    `json:"gear_to"`
}

// A Shift is one change of gear.
type Shift struct {
	At   float64 `json:"at_s"` // s from the start of the recording
	From int     `json:"from"`
	To   int     `json:"to"`
}

// Truth is what really happened in a made ride. Gears are indexes into
// bike.Profile.Gears().
type Truth struct {
	Ride    string
	Rider   string
	Seconds int

	Gear        []int                // in use for most of the second
	Pushing     []bool               // the legs pushed for most of the second
	Speed       Column               // m/s
	CadenceRPM  Column               // of the crank
	MotorSpeed  Column               // rad/s of the rotor
	MotorAmps   Column               // in the equivalent machine
	Volts       Column               // at the battery's terminals
	Amps        Column               // out of the battery
	Altitude    Column               // m
	Winding     Column               // °C at the second's end
	Housing     Column               // °C
	Charge      Column               // 0..1
	Power       [AccountCount]Column // W, mean over the second
	Lugging     []bool               // the motor lugged
	LuggingLoss Column               // W out of the battery's cells that the best gear would have saved; 0 where not lugging

	Shifts  []Shift
	Planted []Planted
}

func newTruth(sc Scenario, rd Rider, seconds int) *Truth {
	t := &Truth{Ride: sc.Name, Rider: rd.Name}
	all := make([]float64, (int(AccountCount)+11)*seconds)
	cut := func() Column {
		c := all[:0:seconds]
		all = all[seconds:]
		return c
	}
	for _, c := range t.columns() {
		*c = cut()
	}
	t.Gear = make([]int, 0, seconds)
	t.Pushing, t.Lugging = make([]bool, 0, seconds), make([]bool, 0, seconds)
	return t
}

func (t *Truth) columns() []*Column {
	all := []*Column{
		&t.Speed, &t.CadenceRPM, &t.MotorSpeed, &t.MotorAmps, &t.Volts, &t.Amps, &t.Altitude,
		&t.Winding, &t.Housing, &t.Charge, &t.LuggingLoss,
	}
	for a := range t.Power {
		all = append(all, &t.Power[a])
	}
	return all
}

// Wh is one account's total.
func (t *Truth) Wh(a Account) float64 { return wattHours(t.Power[a]) }

// TerminalWh is the energy out of the battery's terminals.
func (t *Truth) TerminalWh() float64 { return t.Wh(Stored) - t.Wh(BatteryHeat) }

// LuggingWh is what lugging cost, out of the battery's cells.
func (t *Truth) LuggingWh() float64 { return wattHours(t.LuggingLoss) }

// Metres ridden.
func (t *Truth) Metres() float64 { return wattHours(t.Speed) * 3600 }

func wattHours(c Column) float64 {
	sum := 0.0
	for _, v := range c {
		sum += v
	}
	return sum / 3600
}

// plant opens a planted habit and returns a handle for close.
func (t *Truth) plant(habit string, second, gear int) int {
	t.Planted = append(t.Planted, Planted{Habit: habit, From: second, To: -1, GearFrom: gear, GearTo: gear})
	return len(t.Planted)
}

func (t *Truth) close(handle, second, gear int) {
	p := &t.Planted[handle-1]
	p.To, p.GearTo = second, gear
}

// finish closes what is still open at the end of the ride.
func (t *Truth) finish(rd Rider) {
	t.Seconds = len(t.Gear)
	for i := range t.Planted {
		if t.Planted[i].To < 0 {
			t.Planted[i].To = t.Seconds
		}
	}
	if rd.OneGear {
		t.Planted = append(t.Planted, Planted{Habit: OneGearRiding, To: t.Seconds, GearFrom: t.Gear[0], GearTo: t.Gear[t.Seconds-1]})
	}
}

// MarshalJSON writes the truth with units in its keys, account by account.
func (t *Truth) MarshalJSON() ([]byte, error) {
	type account struct {
		Account string  `json:"account"`
		Wh      float64 `json:"wh"`
		Watts   Column  `json:"w"`
	}
	accounts := make([]account, AccountCount)
	for a := range AccountCount {
		accounts[a] = account{a.String(), t.Wh(a), t.Power[a]}
	}
	return json.Marshal(struct {
		Schema      string    `json:"schema"`
		Made        string    `json:"made"`
		Ride        string    `json:"ride"`
		Rider       string    `json:"rider"`
		Seconds     int       `json:"seconds"`
		TerminalWh  float64   `json:"battery_wh"`
		LuggingWh   float64   `json:"lugging_loss_wh"`
		Shifts      []Shift   `json:"shifts"`
		Planted     []Planted `json:"planted"`
		Gear        []int     `json:"gear"`
		Pushing     []bool    `json:"pushing"`
		Speed       Column    `json:"speed_mps"`
		Cadence     Column    `json:"cadence_rpm"`
		MotorSpeed  Column    `json:"motor_rad_per_s"`
		MotorAmps   Column    `json:"motor_a"`
		Volts       Column    `json:"battery_v"`
		Amps        Column    `json:"battery_a"`
		Altitude    Column    `json:"altitude_m"`
		Winding     Column    `json:"winding_c"`
		Housing     Column    `json:"housing_c"`
		Charge      Column    `json:"charge"`
		Lugging     []bool    `json:"lugging"`
		LuggingLoss Column    `json:"lugging_loss_w"`
		Accounts    []account `json:"accounts"`
	}{
		"cogledger/truth/1", "made by forward simulation; no such ride took place", t.Ride, t.Rider, t.Seconds,
		t.TerminalWh(), t.LuggingWh(), t.Shifts, t.Planted, t.Gear, t.Pushing, t.Speed, t.CadenceRPM,
		t.MotorSpeed, t.MotorAmps, t.Volts, t.Amps, t.Altitude, t.Winding, t.Housing, t.Charge,
		t.Lugging, t.LuggingLoss, accounts,
	})
}
