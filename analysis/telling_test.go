package analysis

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"cogledger/ingest/ride"
)

// What a log can tell falls with every channel that it lacks.
func TestTold(t *testing.T) {
	tests := []struct {
		reason               string
		channels             []ride.Channel
		gear, load, heat     Answer
		battery, wheel, turn Answer
	}{
		{"all", []ride.Channel{ride.Speed, ride.CadenceRPM, ride.BatteryVolts, ride.BatteryAmps, ride.MotorRPM, ride.Altitude}, Derived, Derived, Modelled, Measured, Derived, Measured},
		{"a head unit", []ride.Channel{ride.Speed, ride.CadenceRPM, ride.RiderPower, ride.Altitude}, Derived, Modelled, Modelled, Modelled, Derived, Derived},
		{"reported motor power", []ride.Channel{ride.Speed, ride.CadenceRPM, ride.MotorPower}, Derived, Derived, Modelled, Derived, Modelled, Derived},
		{"a drive logger alone", []ride.Channel{ride.BatteryVolts, ride.BatteryAmps}, No, Derived, Modelled, Measured, No, No},
		{"speed alone", []ride.Channel{ride.Speed}, No, No, No, No, Modelled, Derived},
		{"air temperature alone", []ride.Channel{ride.AirTemp}, No, No, No, No, No, No},
	}
	for _, tt := range tests {
		track := &ride.Track{}
		for k := range 3 {
			track.Sample(float64(k))
			for _, c := range tt.channels {
				track.Put(c, 20)
			}
		}
		r, err := track.Ride()
		if err != nil {
			t.Fatal(err)
		}
		answers := map[string]Answer{}
		for _, told := range Tell(r) {
			answers[told.Question] = told.Answer
			if told.Answer == No && !strings.Contains(told.By, "missing") && !strings.Contains(told.By, "neither") {
				t.Errorf("%s: %q is not told, and %q does not say why", tt.reason, told.Question, told.By)
			}
		}
		want := map[string]Answer{
			"which gear was in use": tt.gear, "how hard the motor worked": tt.load, "how hot the winding got": tt.heat,
			"where the battery's energy went": tt.battery, "where the energy at the wheel went": tt.wheel, "how fast the motor turned": tt.turn,
			"where on the road": answers["where on the road"],
		}
		if diff := cmp.Diff(want, answers); diff != "" {
			t.Errorf("%s (-want +got):\n%s", tt.reason, diff)
		}
	}
}

// A column that is nought, or empty, for most of a ride tells nothing.
func TestTellsBySeconds(t *testing.T) {
	for name, cadence := range map[string]func(k int) float64{
		"noughts":            func(int) float64 { return 0 },
		"a thousandth":       func(k int) float64 { return map[bool]float64{true: 0, false: math.NaN()}[k == 0] },
		"a tenth of turning": func(k int) float64 { return map[bool]float64{true: 80, false: math.NaN()}[k < 100] },
	} {
		track := &ride.Track{}
		for k := range 1000 {
			track.Sample(float64(k))
			track.Put(ride.Speed, 5)
			track.Put(ride.CadenceRPM, cadence(k))
		}
		r, err := track.Ride()
		if err != nil {
			t.Fatal(err)
		}
		if gear := Tell(r)[0]; gear.Answer != No {
			t.Errorf("%s: %+v", name, gear)
		}
	}
}
