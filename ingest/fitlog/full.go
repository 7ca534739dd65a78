package fitlog

import (
	"bytes"
	"fmt"
	"math"

	"cogledger/ingest/ride"

	"github.com/muktihari/fit/decoder"
	"github.com/muktihari/fit/profile/untyped/fieldnum"
	"github.com/muktihari/fit/profile/untyped/mesgnum"
	"github.com/muktihari/fit/proto"
)

// Fields of a record that only the full decoder knows.
const (
	fieldMotorPower    = fieldnum.RecordMotorPower
	fieldBatteryLevel  = fieldnum.RecordEbikeBatteryLevel
	fieldAssistMode    = fieldnum.RecordEbikeAssistMode
	fieldAssistPercent = fieldnum.RecordEbikeAssistLevelPercent
)

// Fields of a record that the standard decoder adds up in variables shared by
// all files and goroutines, so that the sums are wrong and race.
const (
	fieldCompressedSpeedDistance = fieldnum.RecordCompressedSpeedDistance
	fieldCycles                  = fieldnum.RecordCycles
	fieldCompressedPower         = fieldnum.RecordCompressedAccumulatedPower
)

// full reads the frame by the decoder that knows developer fields.
func (f *frame) full(l *log) {
	defer func() {
		if r := recover(); r != nil {
			f.note(f.start, fmt.Sprintf("the file is damaged in a way that its decoder cannot read (%v); records before that were read", r), copyAgain)
		}
	}()
	if !sound(f.bytes) { // the decoder's own check is wrong for short headers
		f.wrongChecksum()
	}
	l.track.Time = make([]float64, 0, f.records)
	options := []decoder.Option{decoder.WithMesgListener(&listener{log: l}), decoder.WithBroadcastOnly(), decoder.WithIgnoreChecksum()}
	if !f.packed { // else every speed and altitude would be unpacked to a copy of itself
		options = append(options, decoder.WithNoComponentExpansion())
	}
	d := decoder.New(bytes.NewReader(f.bytes), options...)
	if _, err := d.Decode(); err != nil {
		f.note(f.start, fmt.Sprintf("in the file that starts here: %v; all records before this place were read", err), copyAgain)
	}
}

// A listener takes messages from the decoder one by one. Their memory is the
// decoder's: nothing of it may be kept.
type listener struct {
	log     *log
	untimed int
}

// OnMesg implements decoder.MesgListener.
func (l *listener) OnMesg(m proto.Message) {
	switch m.Num {
	case mesgnum.Record:
		l.record(&m)
	case mesgnum.Event:
		event := m.FieldValueByNum(fieldnum.EventEvent).Uint8()
		data := m.FieldValueByNum(fieldnum.EventData).Uint32()
		if at := timeOf(&m); (event == frontGearEvent || event == rearGearEvent) && at != math.MaxUint32 && data != math.MaxUint32 {
			l.log.shift(at, data)
		}
	case mesgnum.FileId:
		id := m.FieldValueByNum
		maker := id(fieldnum.FileIdManufacturer).Uint16()
		l.log.device(makerName(maker), maker, id(fieldnum.FileIdProduct).Uint16(), text(id(fieldnum.FileIdProductName)), id(fieldnum.FileIdSerialNumber).Uint32z())
	case mesgnum.DeviceInfo:
		l.log.sensor(m.FieldValueByNum(fieldnum.DeviceInfoSourceType).Uint8(), m.FieldValueByNum(fieldnum.DeviceInfoDeviceType).Uint8())
	case mesgnum.Session:
		seconds := math.NaN()
		if v := m.FieldValueByNum(fieldnum.SessionTotalElapsedTime).Uint32(); v != math.MaxUint32 {
			seconds = float64(v) / 1000
		}
		l.log.session(m.FieldValueByNum(fieldnum.SessionStartTime).Uint32(), seconds, m.FieldValueByNum(fieldnum.SessionSport).Uint8())
	case mesgnum.FieldDescription:
		l.log.fields.describe(&m)
	}
}

func timeOf(m *proto.Message) uint32 { return m.FieldValueByNum(proto.FieldNumTimestamp).Uint32() }

// record takes one record message.
func (l *listener) record(m *proto.Message) {
	var r record
	for c := range r {
		r[c] = math.NaN()
	}
	at, whole, fraction := uint32(math.MaxUint32), uint8(math.MaxUint8), uint8(math.MaxUint8)
	speed, altitude, assist := math.NaN(), math.NaN(), math.NaN()
	for i := range m.Fields {
		f := &m.Fields[i]
		v, field := f.Value, f.Num
		if f.IsExpandedField && (field == fieldnum.RecordEnhancedSpeed || field == fieldnum.RecordEnhancedAltitude) {
			continue // a copy of the plain field, which the decoder cuts by up to a digit
		}
		switch field {
		case proto.FieldNumTimestamp:
			at = v.Uint32()
		case fieldnum.RecordEnhancedSpeed:
			r[ride.Speed] = scaled32(v.Uint32(), 1000, 0)
		case fieldnum.RecordSpeed:
			speed = scaled16(v.Uint16(), 1000, 0)
		case fieldnum.RecordDistance:
			r[ride.Distance] = scaled32(v.Uint32(), 100, 0)
		case fieldnum.RecordCadence:
			whole = v.Uint8()
		case fieldnum.RecordFractionalCadence:
			fraction = v.Uint8()
		case fieldnum.RecordPower:
			r[ride.RiderPower] = scaled16(v.Uint16(), 1, 0)
		case fieldnum.RecordTemperature:
			if v := v.Int8(); v != math.MaxInt8 {
				r[ride.AirTemp] = float64(v)
			}
		case fieldnum.RecordEnhancedAltitude:
			r[ride.Altitude] = scaled32(v.Uint32(), 5, 500)
		case fieldnum.RecordAltitude:
			altitude = scaled16(v.Uint16(), 5, 500)
		case fieldnum.RecordPositionLat:
			r[ride.Latitude] = semicircles(v.Int32())
		case fieldnum.RecordPositionLong:
			r[ride.Longitude] = semicircles(v.Int32())
		case fieldMotorPower:
			r[ride.MotorPower] = scaled16(v.Uint16(), 1, 0)
		case fieldBatteryLevel:
			r[ride.BatteryCharge] = scaled8(v.Uint8())
		case fieldAssistMode:
			r[ride.AssistLevel] = scaled8(v.Uint8())
		case fieldAssistPercent:
			assist = scaled8(v.Uint8())
		}
	}
	if at == math.MaxUint32 {
		if l.untimed++; l.untimed == 1 {
			l.log.note("", "records without a time were left out", "")
		}
		return
	}
	r[ride.Speed] = first(r[ride.Speed], speed)
	r[ride.Altitude] = first(r[ride.Altitude], altitude)
	r[ride.AssistLevel] = first(r[ride.AssistLevel], assist)
	r[ride.CadenceRPM] = cadence(whole, fraction)
	for i := range m.DeveloperFields {
		l.log.fields.put(&r, len(l.log.track.Time), &m.DeveloperFields[i])
	}
	l.log.sample(at, &r)
}

func scaled32(v uint32, scale, offset float64) float64 {
	if v == math.MaxUint32 {
		return math.NaN()
	}
	return float64(v)/scale - offset
}

func scaled16(v uint16, scale, offset float64) float64 {
	if v == math.MaxUint16 {
		return math.NaN()
	}
	return float64(v)/scale - offset
}

func scaled8(v uint8) float64 {
	if v == math.MaxUint8 {
		return math.NaN()
	}
	return float64(v)
}

func semicircles(v int32) float64 {
	if v == math.MaxInt32 {
		return math.NaN()
	}
	return float64(v) * (180.0 / (1 << 31))
}
