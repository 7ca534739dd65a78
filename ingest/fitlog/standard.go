package fitlog

import (
	"bytes"
	"errors"
	"fmt"
	"math"

	"cogledger/ingest/ride"

	"github.com/tormoder/fit"
)

// decode reads the frame by the decoder that suits it.
func (f *frame) decode(l *log) {
	if !f.extra {
		if f.standard(l) {
			return
		}
		*l = *newLog(l.track.Sources[0].File)
	}
	f.full(l)
}

func (f *frame) wrongChecksum() {
	f.note(f.start+len(f.bytes)-2, "the file's checksum is wrong; the records were read all the same", copyAgain)
}

// standard reads the frame by the decoder of standard messages. It returns
// false when that one refuses the file.
func (f *frame) standard(l *log) bool {
	file, err := decodeStandard(f.bytes)
	var broken fit.IntegrityError
	if file == nil || err != nil && !errors.As(err, &broken) {
		return false
	}
	activity, err := file.Activity()
	if err != nil || activity == nil { // nil where a second file_id made it an activity after all
		return false
	}
	if broken != "" {
		f.wrongChecksum()
	}
	id := file.FileId
	l.device(id.Manufacturer.String(), uint16(id.Manufacturer), id.Product, id.ProductName, id.SerialNumber)
	for _, d := range activity.DeviceInfos {
		l.sensor(uint8(d.SourceType), d.DeviceType)
	}
	l.readStandardRecords(activity.Records)
	for _, e := range activity.Events {
		if (e.Event == frontGearEvent || e.Event == rearGearEvent) && !fit.IsBaseTime(e.Timestamp) && e.Data != math.MaxUint32 {
			l.shift(uint32(e.Timestamp.Unix()-epoch.Unix()), e.Data)
		}
	}
	for _, s := range activity.Sessions {
		if !fit.IsBaseTime(s.StartTime) {
			l.session(uint32(s.StartTime.Unix()-epoch.Unix()), s.GetTotalElapsedTimeScaled(), uint8(s.Sport))
		}
	}
	return true
}

func decodeStandard(data []byte) (file *fit.File, err error) {
	defer func() {
		if r := recover(); r != nil { // the decoder panics on some broken definitions
			err = fmt.Errorf("%v", r)
		}
	}()
	return fit.Decode(bytes.NewReader(data))
}

func (l *log) readStandardRecords(records []*fit.RecordMsg) {
	l.track.Time = make([]float64, 0, len(records))
	untimed := 0
	for _, m := range records {
		if fit.IsBaseTime(m.Timestamp) {
			untimed++
			continue
		}
		r := record{
			ride.Speed:         first(m.GetEnhancedSpeedScaled(), m.GetSpeedScaled()),
			ride.Distance:      m.GetDistanceScaled(),
			ride.CadenceRPM:    cadence(m.Cadence, m.FractionalCadence),
			ride.RiderPower:    math.NaN(),
			ride.MotorPower:    math.NaN(),
			ride.BatteryVolts:  math.NaN(),
			ride.BatteryAmps:   math.NaN(),
			ride.BatteryCharge: math.NaN(),
			ride.MotorRPM:      math.NaN(),
			ride.MotorTemp:     math.NaN(),
			ride.AirTemp:       math.NaN(),
			ride.AssistLevel:   math.NaN(),
			ride.Altitude:      first(m.GetEnhancedAltitudeScaled(), m.GetAltitudeScaled()),
			ride.Latitude:      m.PositionLat.Degrees(),
			ride.Longitude:     m.PositionLong.Degrees(),
		}
		if m.Power != math.MaxUint16 {
			r[ride.RiderPower] = float64(m.Power)
		}
		if m.Temperature != math.MaxInt8 {
			r[ride.AirTemp] = float64(m.Temperature)
		}
		l.sample(uint32(m.Timestamp.Unix()-epoch.Unix()), &r)
	}
	if untimed > 0 {
		l.note("", fmt.Sprintf("%d records have no time and were left out", untimed), "")
	}
}

// first is the first value that is known.
func first(a, b float64) float64 {
	if math.IsNaN(a) {
		return b
	}
	return a
}

// cadence is whole turns a minute and 128ths, NaN where the whole is missing.
func cadence(whole, fraction uint8) float64 {
	switch {
	case whole == math.MaxUint8:
		return math.NaN()
	case fraction == math.MaxUint8:
		return float64(whole)
	}
	return float64(whole) + float64(fraction)/128
}
