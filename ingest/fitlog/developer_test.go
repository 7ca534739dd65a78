package fitlog_test

import (
	"bytes"
	"math"
	"testing"
	"time"

	"cogledger/ingest/fitlog"
	"cogledger/ingest/ride"

	"github.com/muktihari/fit/encoder"
	"github.com/muktihari/fit/profile/basetype"
	"github.com/muktihari/fit/profile/mesgdef"
	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/profile/untyped/fieldnum"
	"github.com/muktihari/fit/proto"
)

// A field as some maker describes and writes it.
type field struct {
	name, units   string
	base          basetype.BaseType
	scale, native uint8
	value         proto.Value
}

// logged writes two records with the fields, through an encoder that is not
// ours to shape.
func logged(t *testing.T, fields ...field) *ride.Track {
	t.Helper()
	at := time.Date(2026, 5, 4, 6, 30, 0, 0, time.UTC)
	file := proto.FIT{FileHeader: proto.FileHeader{ProtocolVersion: proto.V2}}
	add := func(m proto.Message) { file.Messages = append(file.Messages, m) }
	add(mesgdef.NewFileId(nil).SetType(typedef.FileActivity).SetTimeCreated(at).ToMesg(nil))
	add(mesgdef.NewDeveloperDataId(nil).SetDeveloperDataIndex(3).SetApplicationId([]byte("sixteen bytes id")).ToMesg(nil))
	for i, f := range fields {
		d := mesgdef.NewFieldDescription(nil).SetDeveloperDataIndex(3).SetFieldDefinitionNumber(uint8(i)).
			SetFitBaseTypeId(f.base).SetFieldName([]string{f.name}).SetUnits([]string{f.units})
		if f.scale != 0 {
			d.SetScale(f.scale)
		}
		if f.native != 0 {
			d.SetNativeMesgNum(typedef.MesgNumRecord).SetNativeFieldNum(f.native)
		}
		add(d.ToMesg(nil))
	}
	for k := range 2 {
		m := mesgdef.NewRecord(nil).SetTimestamp(at.Add(time.Duration(k) * time.Second)).SetCadence(60).ToMesg(nil)
		for i, f := range fields {
			m.DeveloperFields = append(m.DeveloperFields, proto.DeveloperField{DeveloperDataIndex: 3, Num: uint8(i), Value: f.value})
		}
		add(m)
	}
	var b bytes.Buffer
	if err := encoder.New(&b, encoder.WithProtocolVersion(proto.V2)).Encode(&file); err != nil {
		t.Fatal(err)
	}
	tracks, err := fitlog.Read(b.Bytes(), "maker.fit", fitlog.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	return tracks[0]
}

func TestDeveloperFields(t *testing.T) {
	tests := []struct {
		reason  string
		fields  []field
		channel ride.Channel
		want    float64 // NaN: the channel must be absent
		note    string
	}{
		{"millivolts by name and unit", []field{{"Batt Volt", "mV", basetype.Uint16, 0, 0, proto.Uint16(48500)}}, ride.BatteryVolts, 48.5, `"Batt Volt" [mV] for battery_voltage`},
		{"a scale of its own", []field{{"Motor Temp", "C", basetype.Uint16, 10, 0, proto.Uint16(615)}}, ride.MotorTemp, 61.5, `"Motor Temp" [C] for motor_temperature`},
		{"signed amperes while charging", []field{{"Battery Current", "A", basetype.Sint16, 100, 0, proto.Int16(-250)}}, ride.BatteryAmps, -2.5, "battery_current"},
		{"a phase current is not the battery's", []field{{"Phase Current", "A", basetype.Float32, 0, 0, proto.Float32(30)}}, ride.BatteryAmps, nan, `left out: "Phase Current" [A]`},
		{"the better name wins", []field{{"Voltage", "V", basetype.Float32, 0, 0, proto.Float32(3)}, {"Battery Voltage", "V", basetype.Float32, 0, 0, proto.Float32(48)}}, ride.BatteryVolts, 48, `left out: "Voltage" [V]`},
		{"torque makes power with cadence", []field{{"Rider Torque", "Nm", basetype.Float32, 0, 0, proto.Float32(20)}}, ride.RiderPower, 20 * 2 * math.Pi, "torque"},
		{"a field that stands for a native one", []field{{"P", "", basetype.Uint16, 0, fieldnum.RecordPower, proto.Uint16(211)}}, ride.RiderPower, 211, `"P" [] for rider_power`},
		{"the record's own value is kept", []field{{"Cadence", "rpm", basetype.Uint8, 0, fieldnum.RecordCadence, proto.Uint8(77)}}, ride.CadenceRPM, 60, ""},
		{"an invalid value is missing", []field{{"Battery Voltage", "V", basetype.Uint8, 0, 0, proto.Uint8(255)}}, ride.BatteryVolts, nan, ""},
		{"text is no number", []field{{"Battery Voltage", "V", basetype.String, 0, 0, proto.String("high")}}, ride.BatteryVolts, nan, ""},
		{"not a number is missing", []field{{"Battery Voltage", "V", basetype.Float32, 0, 0, proto.Float32(float32(nan))}}, ride.BatteryVolts, nan, ""},
	}
	for _, tt := range tests {
		track := logged(t, tt.fields...)
		got := nan
		if track.Has(tt.channel) {
			got = track.Values[tt.channel][1]
		}
		if !(math.Abs(got-tt.want) < 1e-4) && !(math.IsNaN(got) && math.IsNaN(tt.want)) {
			t.Errorf("%s: got %v, want %v", tt.reason, got, tt.want)
		}
		if tt.note != "" && !said(track, tt.note) {
			t.Errorf("%s: notes %v", tt.reason, track.Notes)
		}
	}
}
