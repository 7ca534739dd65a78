package ride

// A Channel is one column of a ride.
type Channel uint8

// The channels. Values are SI (m, s, W, V, A, °C) unless the name says
// otherwise.
const (
	Speed         Channel = iota // m/s
	Distance                     // m, cumulative, never falling
	CadenceRPM                   // crank turns a minute, as logged
	RiderPower                   // W at the crank or pedals
	MotorPower                   // W of mechanical output, as the drive reports it
	BatteryVolts                 // V at the battery's terminals under load
	BatteryAmps                  // A, positive while discharging, negative while charging
	BatteryCharge                // per cent of full
	MotorRPM                     // motor turns a minute, as logged
	MotorTemp                    // °C, at the drive's own sensor
	AirTemp                      // °C
	AssistLevel                  // a number, 0 is off
	Altitude                     // m
	Latitude                     // degrees, north positive
	Longitude                    // degrees, east positive
	ChannelCount
)

// String is the channel's stable key in JSON, CSV headers and messages.
func (c Channel) String() string { return channelTable[c].key }

// Unit is the unit of the channel's values.
func (c Channel) Unit() string { return channelTable[c].unit }

// Plausible is the range of values that a ride can hold. Values outside it are
// faults of a sensor or of the log: Track.Ride drops them and says so. The
// limits are common practice, set wide enough for any rider and any drive.
func (c Channel) Plausible() (low, high float64) {
	return channelTable[c].low, channelTable[c].high
}

// stepwise reports whether the channel changes in steps, so that a straight
// line between two of its values would invent values that never were.
func (c Channel) stepwise() bool { return c == AssistLevel }

// stands reports whether the channel tells where the ride stands at a moment,
// so that a mean over the second would blur it.
func (c Channel) stands() bool {
	switch c {
	case Distance, AssistLevel, BatteryCharge, Latitude, Longitude:
		return true
	}
	return false
}

var channelTable = [ChannelCount]struct {
	key, unit string
	low, high float64
}{
	Speed:         {"speed", "m/s", 0, 40},
	Distance:      {"distance", "m", 0, 5e6},
	CadenceRPM:    {"cadence", "rpm", 0, 250},
	RiderPower:    {"rider_power", "W", 0, 3000},
	MotorPower:    {"motor_power", "W", -5000, 10000},
	BatteryVolts:  {"battery_voltage", "V", 1, 200},
	BatteryAmps:   {"battery_current", "A", -200, 500},
	BatteryCharge: {"battery_charge", "%", 0, 100},
	MotorRPM:      {"motor_speed", "rpm", 0, 30000},
	MotorTemp:     {"motor_temperature", "°C", -50, 300},
	AirTemp:       {"air_temperature", "°C", -50, 70},
	AssistLevel:   {"assist_level", "", 0, 255},
	Altitude:      {"altitude", "m", -500, 9000},
	Latitude:      {"latitude", "°", -90, 90},
	Longitude:     {"longitude", "°", -180, 180},
}

// A Mark tells how one value of a channel came about.
type Mark uint8

const (
	Missing      Mark = iota
	Measured          // logged within the second
	Interpolated      // on a straight line between two samples no further apart than a pause
	Derived           // worked out from another channel of the same log, as Origin tells
)

// An Origin tells where a channel comes from.
type Origin uint8

const (
	Absent        Origin = iota
	Device               // logged by a device, its sensor not told
	WheelSensor          // counted at the wheel
	Satellite            // the receiver's own speed
	FromPositions        // derived from positions and smoothed
	FromDistance         // derived from logged distance
	FromSpeed            // summed from speed
)

func (o Origin) String() string {
	return [...]string{"absent", "device", "wheel sensor", "satellite receiver", "derived from positions", "derived from distance", "summed from speed"}[o]
}
