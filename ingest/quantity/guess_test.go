package quantity_test

import (
	"testing"

	"cogledger/ingest/quantity"
	"cogledger/ingest/ride"
)

func TestTake(t *testing.T) {
	const none = ride.ChannelCount
	tests := []struct {
		name, unit string
		want       ride.Channel
	}{
		{"Battery Voltage", "V", ride.BatteryVolts},
		{"battVolt", "mV", ride.BatteryVolts},
		{"batteryVoltage", "", ride.BatteryVolts},
		{"voltage", "volts", ride.BatteryVolts},
		{"U_batt", "V", ride.BatteryVolts},
		{"cell_voltage_min", "V", none},
		{"Cell Voltage", "V", none},
		{"phase voltage", "V", none},
		{"motor voltage", "V", none},
		{"Throttle", "V", none},
		{"battery_current", "A", ride.BatteryAmps},
		{"Current", "mA", ride.BatteryAmps},
		{"Pack Amps", "", ride.BatteryAmps},
		{"motor current", "A", none},
		{"Phase Amps", "A", none},
		{"battery current limit", "A", none},
		{"Motor RPM", "rpm", ride.MotorRPM},
		{"motorSpeed", "1/min", ride.MotorRPM},
		{"motor_speed", "", ride.MotorRPM},
		{"motor erpm", "rpm", none},
		{"Wheel speed", "rpm", none},
		{"crank cadence", "rpm", ride.CadenceRPM},
		{"Motor Temperature", "°C", ride.MotorTemp},
		{"motor temp", "C", ride.MotorTemp},
		{"motor_temp", "F", ride.MotorTemp},
		{"winding temperature", "degC", ride.MotorTemp},
		{"Motor controller temp", "C", none},
		{"battery temp", "C", none},
		{"ambient temp", "C", ride.AirTemp},
		{"Motor Power", "W", ride.MotorPower},
		{"assist power", "watts", ride.MotorPower},
		{"motor electrical power", "W", none},
		{"battery power", "W", none},
		{"rider power", "W", ride.RiderPower},
		{"Human Power", "", ride.RiderPower},
		{"rider torque", "Nm", ride.RiderPower},
		{"motor torque", "Nm", ride.MotorPower},
		{"Battery Level", "%", ride.BatteryCharge},
		{"SOC", "%", ride.BatteryCharge},
		{"battery health", "%", none},
		{"Assist Level", "", ride.AssistLevel},
		{"assist_mode", "", ride.AssistLevel},
		{"support level", "", ride.AssistLevel},
		{"Core Temperature", "°C", none},
		{"air speed", "m/s", none},
		{"heart rate", "bpm", none},
		{"range", "km", none},
		{"", "", none},
	}
	for _, tt := range tests {
		got, ok := quantity.Take(tt.name, tt.unit)
		switch {
		case ok != (tt.want != none):
			t.Errorf("%q in %q: taken %v for %v", tt.name, tt.unit, ok, got.Channel)
		case ok && got.Channel != tt.want:
			t.Errorf("%q in %q: taken for %v, want %v", tt.name, tt.unit, got.Channel, tt.want)
		}
	}
	if g, _ := quantity.Take("rider torque", "Nm"); g.Factor != quantity.CrankTurn {
		t.Errorf("a rider's torque makes power with %v", g.Factor)
	}
	if a, _ := quantity.Take("Battery Voltage", "V"); a.Certain <= func() int { b, _ := quantity.Take("Voltage", "V"); return b.Certain }() {
		t.Error("a name that says battery must win over one that does not")
	}
}
