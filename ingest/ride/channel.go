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

var channelTable = [ChannelCount]struct{ key, unit string }{
	Speed:         {"speed", "m/s"},
	Distance:      {"distance", "m"},
	CadenceRPM:    {"cadence", "rpm"},
	RiderPower:    {"rider_power", "W"},
	MotorPower:    {"motor_power", "W"},
	BatteryVolts:  {"battery_voltage", "V"},
	BatteryAmps:   {"battery_current", "A"},
	BatteryCharge: {"battery_charge", "%"},
	MotorRPM:      {"motor_speed", "rpm"},
	MotorTemp:     {"motor_temperature", "°C"},
	AirTemp:       {"air_temperature", "°C"},
	AssistLevel:   {"assist_level", ""},
	Altitude:      {"altitude", "m"},
	Latitude:      {"latitude", "°"},
	Longitude:     {"longitude", "°"},
}

// A Mark tells how one value of a channel came about.
type Mark uint8

const (
	Missing      Mark = iota
	Measured          // logged within the second
	Interpolated      // on a straight line between two samples no further apart than a pause
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
