// Package replay rides the same ride again on another drive.
package replay

// An Outcome is the ride on another drive: same road, same legs, and the same
// speed wherever that drive can hold it.
type Outcome struct {
	Name          string
	Kind          string // "as ridden", "plan", "single gear", "hub", "other profile"
	BatteryWh     float64
	CopperWh      float64
	WindingPeakC  float64
	FeasibleShare float64 // share of the loaded seconds in which it can hold the ride's speed, 0..1
	SlowerBy      float64 // share of speed lost on average in the other seconds, 0..1
	OverLimitS    int     // seconds above the winding's limit
	Gear          []int   // gear used each second; nil for drives without gears
}
