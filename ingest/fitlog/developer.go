package fitlog

import (
	"fmt"
	"math"
	"strings"

	"cogledger/ingest/quantity"
	"cogledger/ingest/ride"

	"github.com/muktihari/fit/profile/basetype"
	"github.com/muktihari/fit/profile/mesgdef"
	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/profile/untyped/fieldnum"
	"github.com/muktihari/fit/proto"
)

// A fieldMap knows the developer fields of a file and what they were taken for.
type fieldMap struct {
	fields []developerField
	next   int          // where the field after the last one found is likely to stand
	torque [2][]float64 // Nm by sample: at the crank, at the motor
}

// A developerField is a field that the file itself describes.
type developerField struct {
	index, number byte
	name, units   string
	base          basetype.BaseType
	scale, offset float64
	taken         bool
	guess         quantity.Guess
	seen          bool // some record holds it
}

// mostFields bounds what a damaged or hostile file can describe.
const mostFields = 256

// describe takes the description of a field.
func (m *fieldMap) describe(message *proto.Message) {
	d := mesgdef.NewFieldDescription(message)
	if len(m.fields) >= mostFields || m.find(d.DeveloperDataIndex, d.FieldDefinitionNumber) != nil {
		return
	}
	f := developerField{
		index: d.DeveloperDataIndex, number: d.FieldDefinitionNumber, base: d.FitBaseTypeId,
		name: ride.Label(strings.Join(d.FieldName, "")), units: ride.Label(strings.Join(d.Units, "")),
		scale: 1,
	}
	if d.Scale != math.MaxUint8 && d.Scale != 0 {
		f.scale = float64(d.Scale)
	}
	if d.Offset != math.MaxInt8 {
		f.offset = float64(d.Offset)
	}
	if f.guess, f.taken = native(d); !f.taken {
		f.guess, f.taken = quantity.Take(f.name, f.units)
	}
	for i := range m.fields {
		other := &m.fields[i]
		if !f.taken || !other.taken || other.guess.Channel != f.guess.Channel || other.guess.Factor != f.guess.Factor {
			continue
		}
		if other.guess.Certain >= f.guess.Certain {
			f.taken = false
		} else {
			other.taken = false
		}
	}
	m.fields = append(m.fields, f)
}

// native is the channel of a field that its description declares to stand for
// a field of the record message.
func native(d *mesgdef.FieldDescription) (quantity.Guess, bool) {
	if d.NativeMesgNum != typedef.MesgNumRecord {
		return quantity.Guess{}, false
	}
	channel, ok := map[uint8]ride.Channel{
		fieldnum.RecordSpeed:            ride.Speed,
		fieldnum.RecordEnhancedSpeed:    ride.Speed,
		fieldnum.RecordDistance:         ride.Distance,
		fieldnum.RecordCadence:          ride.CadenceRPM,
		fieldnum.RecordPower:            ride.RiderPower,
		fieldnum.RecordTemperature:      ride.AirTemp,
		fieldnum.RecordAltitude:         ride.Altitude,
		fieldnum.RecordEnhancedAltitude: ride.Altitude,
		fieldMotorPower:                 ride.MotorPower,
		fieldBatteryLevel:               ride.BatteryCharge,
		fieldAssistMode:                 ride.AssistLevel,
	}[d.NativeFieldNum]
	if !ok {
		return quantity.Guess{}, false
	}
	u, known := quantity.Parse(strings.Join(d.Units, ""))
	if !known || u.Kind != quantity.Of(channel) {
		if u, known = quantity.Parse(channel.Unit()); !known {
			return quantity.Guess{}, false
		}
	}
	return quantity.Guess{Channel: channel, Unit: u, Certain: 3}, true
}

// find looks a field up. Records hold their fields in the order in which the
// file describes them, as a rule.
func (m *fieldMap) find(index, number byte) *developerField {
	for range m.fields {
		if m.next >= len(m.fields) {
			m.next = 0
		}
		f := &m.fields[m.next]
		m.next++
		if f.index == index && f.number == number {
			return f
		}
	}
	return nil
}

// put stores a field of sample number n in its record, unless a standard field
// holds the same channel.
func (m *fieldMap) put(r *record, n int, d *proto.DeveloperField) {
	f := m.find(d.DeveloperDataIndex, d.Num)
	if f == nil {
		return
	}
	f.seen = true
	if !f.taken {
		return
	}
	v := f.guess.Unit.Convert(number(d.Value, f.base)/f.scale - f.offset)
	if v-v != 0 { // no number
		return
	}
	if f.guess.Factor != quantity.One {
		column := &m.torque[f.guess.Factor-quantity.CrankTurn]
		for len(*column) <= n {
			*column = append(*column, math.NaN())
		}
		(*column)[n] = v
		return
	}
	if held := &r[f.guess.Channel]; math.IsNaN(*held) {
		*held = v
	}
}

// finish makes power of torque and tells which field was taken for what.
func (m *fieldMap) finish(l *log) {
	t := l.track
	for _, drive := range []struct{ power, speed ride.Channel }{{ride.RiderPower, ride.CadenceRPM}, {ride.MotorPower, ride.MotorRPM}} {
		torque := m.torque[0]
		if drive.power == ride.MotorPower {
			torque = m.torque[1]
		}
		if torque == nil || t.Values[drive.speed] == nil || t.Has(drive.power) {
			continue
		}
		power := make([]float64, len(t.Time))
		for i := range power {
			power[i] = math.NaN()
			if i < len(torque) {
				power[i] = torque[i] * t.Values[drive.speed][i] * math.Pi / 30
			}
		}
		t.Values[drive.power] = power
	}
	var taken, left []string
	for _, f := range m.fields {
		switch {
		case !f.seen, f.taken && f.name == f.guess.Channel.String(): // says by itself what it is
		case f.taken && f.guess.Factor != quantity.One:
			taken = append(taken, fmt.Sprintf("%q [%s] for torque, which with speed makes %s", f.name, f.units, f.guess.Channel))
		case f.taken:
			taken = append(taken, fmt.Sprintf("%q [%s] for %s", f.name, f.units, f.guess.Channel))
		default:
			left = append(left, fmt.Sprintf("%q [%s]", f.name, f.units))
		}
	}
	if len(taken) > 0 {
		l.note("", "developer fields were taken: "+strings.Join(taken, ", "), "")
	}
	if len(left) > 0 {
		l.note("", "developer fields were left out: "+strings.Join(left, ", "), "")
	}
}

// number is a field's value, NaN where it is invalid or no number, such as an
// array.
func number(v proto.Value, base basetype.BaseType) float64 {
	if !v.Valid(base) {
		return math.NaN()
	}
	switch v.Type() {
	case proto.TypeInt8:
		return float64(v.Int8())
	case proto.TypeUint8:
		return float64(v.Uint8())
	case proto.TypeInt16:
		return float64(v.Int16())
	case proto.TypeUint16:
		return float64(v.Uint16())
	case proto.TypeInt32:
		return float64(v.Int32())
	case proto.TypeUint32:
		return float64(v.Uint32())
	case proto.TypeInt64:
		return float64(v.Int64())
	case proto.TypeUint64:
		return float64(v.Uint64())
	case proto.TypeFloat32:
		return float64(v.Float32())
	case proto.TypeFloat64:
		return v.Float64()
	}
	return math.NaN()
}

// text is a string field's value, fit to be shown.
func text(v proto.Value) string {
	if v.Type() != proto.TypeString {
		return ""
	}
	return ride.Label(v.String())
}

func makerName(number uint16) string { return typedef.Manufacturer(number).String() }
