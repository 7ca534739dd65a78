// Package replay rides the same ride again: in the planned gears, in one gear
// only, on a hub motor, on another bike; and starts from a stand.
package replay

// An Outcome is the ride on another drive: same road, same legs, and the same
// speed wherever that drive can hold it.
//
// All outcomes of one ride use one definition of energy: out of the battery's
// terminals over the whole ride. Seconds in which the gear in use is unknown
// enter every one of them as they were ridden.
type Outcome struct {
	Name          string
	Kind          string // "as ridden", "plan", "single gear", "hub", "mid", "other profile"
	Note          string // what was assumed, empty where nothing needs to be said
	BatteryWh     float64
	CopperWh      float64
	WindingPeakC  float64
	FeasibleShare float64 // share of the loaded seconds in which it can hold the ride's speed, 0..1
	SlowerBy      float64 // share of speed lost on average in the other seconds, 0..1
	LongerS       float64 // how much longer the ride takes for it
	OverLimitS    int     // seconds above the winding's limit
	LegsOutShare  float64 // share of the pedalling seconds with the legs out of their band, 0..1
	ReplayedShare float64 // share of the ride's battery energy spent in seconds that could be replayed
	Gear          []int   // gear used each second, -1 where unknown; nil for drives without gears
}

// The kinds of outcome, stable keys.
const (
	AsRidden     = "as ridden"
	Planned      = "plan"
	SingleGear   = "single gear"
	HubMotor     = "hub"
	MidMotor     = "mid"
	OtherProfile = "other profile"
)
