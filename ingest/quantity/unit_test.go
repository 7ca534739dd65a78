package quantity_test

import (
	"math"
	"testing"

	"cogledger/ingest/quantity"
	"cogledger/ingest/ride"
)

func TestConvert(t *testing.T) {
	// SI brochure, 9th ed., and NIST SP 811 (2008), appendix B.
	tests := []struct {
		name     string
		in, want float64
		kind     quantity.Kind
	}{
		{"km/h", 36, 10, quantity.Speed},
		{"KMH", 36, 10, quantity.Speed},
		{"mph", 1, 0.44704, quantity.Speed},
		{"m/s", 3, 3, quantity.Speed},
		{"km", 1.5, 1500, quantity.Length},
		{"mi", 1, 1609.344, quantity.Length},
		{"ft", 1, 0.3048, quantity.Length},
		{"mV", 48000, 48, quantity.Voltage},
		{"mA", 2500, 2.5, quantity.Current},
		{"mW", 2500, 2.5, quantity.Power},
		{"kW", 0.25, 250, quantity.Power},
		{"rad/s", 2 * math.Pi, 60, quantity.Rotation},
		{"Hz", 1.5, 90, quantity.Rotation},
		{"°F", 212, 100, quantity.Temperature},
		{"degF", 32, 0, quantity.Temperature},
		{"K", 273.15, 0, quantity.Temperature},
		{"deg C", 21, 21, quantity.Temperature},
		{"semicircles", 536870912, 45, quantity.Angle}, // FIT protocol: 2^31 semicircles are 180°
		{" % ", 80, 80, quantity.Share},
	}
	for _, tt := range tests {
		u, ok := quantity.Parse(tt.name)
		if !ok || u.Kind != tt.kind {
			t.Errorf("%q: %v, %v", tt.name, u, ok)
			continue
		}
		if got := u.Convert(tt.in); math.Abs(got-tt.want) > 1e-12*math.Max(1, math.Abs(tt.want)) {
			t.Errorf("%g %s: got %v, want %v", tt.in, tt.name, got, tt.want)
		}
	}
	for _, name := range []string{"furlong", "kWh", "bpm"} {
		if _, ok := quantity.Parse(name); ok {
			t.Errorf("%q is no unit of a ride's channel", name)
		}
	}
}

func TestOfferedUnitsAreRead(t *testing.T) {
	for c := range ride.ChannelCount {
		offered := quantity.Names(quantity.Of(c))
		if len(offered) == 0 {
			t.Errorf("%s: no unit offered", c)
		}
		for _, name := range append(offered, c.Unit()) {
			if u, ok := quantity.Parse(name); !ok || u.Kind != quantity.Of(c) {
				t.Errorf("%s: the unit %q is not read as its own", c, name)
			}
		}
	}
}
