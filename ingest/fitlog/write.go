package fitlog

import (
	"errors"
	"fmt"
	"io"
	"math"
	"time"

	"cogledger/ingest/ride"

	"github.com/muktihari/fit/encoder"
	"github.com/muktihari/fit/profile/basetype"
	"github.com/muktihari/fit/profile/mesgdef"
	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/proto"
)

// ErrNoTime means that a track cannot be written since it has no absolute time.
var ErrNoTime = errors.New("a FIT file needs the time of the ride's start")

// Write encodes a track as a FIT activity: standard fields where the protocol
// has them, described developer fields for the battery's volts and amperes and
// the motor's speed and temperature, its gear changes as events. Times are
// whole seconds, so that of samples within one second the last is kept by
// readers. A track whose first source was made by simulation says so in the
// product name and carries the maker's number that is kept for development.
func Write(w io.Writer, t *ride.Track) error {
	if t.Epoch.IsZero() {
		return ErrNoTime
	}
	if len(t.Time) == 0 {
		return ride.ErrEmpty
	}
	wr := writer{track: t}
	wr.header()
	wr.body()
	wr.summary()
	file := proto.FIT{FileHeader: proto.FileHeader{ProtocolVersion: proto.V2}, Messages: wr.messages}
	if err := encoder.New(w, encoder.WithProtocolVersion(proto.V2)).Encode(&file); err != nil {
		return fmt.Errorf("writing FIT: %w", err)
	}
	return nil
}

// A written developer field.
type described struct {
	channel ride.Channel
	name    string
	units   string
}

// The fields that the protocol has no standard for. Their numbers are their
// places in this list. Values are float32.
var writtenFields = []described{
	{ride.BatteryVolts, "battery_voltage", "V"},
	{ride.BatteryAmps, "battery_current", "A"},
	{ride.MotorRPM, "motor_speed", "rpm"},
	{ride.MotorTemp, "motor_temperature", "C"},
	{ride.AssistLevel, "assist_level", ""},
}

type writer struct {
	track    *ride.Track
	messages []proto.Message
}

func (w *writer) add(m interface {
	ToMesg(*mesgdef.Options) proto.Message
}) {
	w.messages = append(w.messages, m.ToMesg(nil))
}

func (w *writer) at(seconds float64) time.Time {
	return w.track.Epoch.Add(time.Duration(math.Round(seconds)) * time.Second)
}

func (w *writer) start() time.Time { return w.at(w.track.Time[0]) }
func (w *writer) end() time.Time   { return w.at(w.track.Time[len(w.track.Time)-1]) }
func (w *writer) seconds() float64 { return w.end().Sub(w.start()).Seconds() }

func (w *writer) header() {
	product := "cogledger"
	if len(w.track.Sources) > 0 {
		if s := w.track.Sources[0]; s.Made {
			product = madeLabel
			if s.Device != "" && s.Device != madeLabel {
				product = madeLabel + ": " + s.Device
			}
		} else if s.Device != "" {
			product = s.Device
		}
	}
	w.add(mesgdef.NewFileId(nil).SetType(typedef.FileActivity).SetManufacturer(typedef.ManufacturerDevelopment).
		SetProduct(0).SetProductName(product).SetTimeCreated(w.start()))
	w.add(mesgdef.NewDeveloperDataId(nil).SetDeveloperDataIndex(0).
		SetApplicationId([]byte("cogledger fields")).SetApplicationVersion(1))
	for i, f := range writtenFields {
		if !w.track.Has(f.channel) {
			continue
		}
		w.add(mesgdef.NewFieldDescription(nil).SetDeveloperDataIndex(0).SetFieldDefinitionNumber(uint8(i)).
			SetFitBaseTypeId(basetype.Float32).SetFieldName([]string{f.name}).SetUnits([]string{f.units}))
	}
	if w.track.Has(ride.Speed) && w.track.Origins[ride.Speed] == ride.WheelSensor {
		const speedSensor = 123
		w.add(mesgdef.NewDeviceInfo(nil).SetTimestamp(w.start()).SetDeviceIndex(1).SetDeviceType(speedSensor).SetSourceType(typedef.SourceTypeAntplus))
	}
}

// body writes records and events in order of time.
func (w *writer) body() {
	w.add(mesgdef.NewEvent(nil).SetTimestamp(w.start()).SetEvent(typedef.EventTimer).SetEventType(typedef.EventTypeStart))
	next := 0
	for i, s := range w.track.Time {
		for ; next < len(w.track.Shifts) && w.track.Shifts[next].Second <= s; next++ {
			w.shift(w.track.Shifts[next])
		}
		w.record(i)
	}
	for ; next < len(w.track.Shifts); next++ {
		w.shift(w.track.Shifts[next])
	}
	w.add(mesgdef.NewEvent(nil).SetTimestamp(w.end()).SetEvent(typedef.EventTimer).SetEventType(typedef.EventTypeStopAll))
}

func (w *writer) shift(s ride.RecordedShift) {
	w.add(mesgdef.NewEvent(nil).SetTimestamp(w.at(s.Second)).SetEvent(rearGearEvent).SetEventType(typedef.EventTypeMarker).SetData(gearData(s)))
}

func (w *writer) record(i int) {
	m := mesgdef.NewRecord(nil).SetTimestamp(w.at(w.track.Time[i]))
	value := func(c ride.Channel) (float64, bool) {
		low, high := c.Plausible()
		if w.track.Values[c] == nil || !(w.track.Values[c][i] >= low && w.track.Values[c][i] <= high) {
			return 0, false
		}
		return w.track.Values[c][i], true
	}
	if v, ok := value(ride.Speed); ok {
		m.SetEnhancedSpeed(uint32(math.Round(v * 1000)))
	}
	if v, ok := value(ride.Distance); ok {
		m.SetDistance(uint32(math.Round(v * 100)))
	}
	if v, ok := value(ride.CadenceRPM); ok {
		// Rounded to a 128th, so that a whole number stays whole.
		whole, fraction := math.Modf(math.Round(v*128) / 128)
		m.SetCadence(uint8(whole)).SetFractionalCadence(uint8(fraction * 128))
	}
	if v, ok := value(ride.RiderPower); ok {
		m.SetPower(uint16(math.Round(v)))
	}
	if v, ok := value(ride.MotorPower); ok && v >= 0 {
		m.SetMotorPower(uint16(math.Round(v)))
	}
	if v, ok := value(ride.BatteryCharge); ok {
		m.SetEbikeBatteryLevel(uint8(math.Round(v)))
	}
	if v, ok := value(ride.AirTemp); ok {
		m.SetTemperature(int8(math.Round(v)))
	}
	if v, ok := value(ride.Altitude); ok {
		m.SetEnhancedAltitude(uint32(math.Round((v + 500) * 5)))
	}
	if v, ok := value(ride.Latitude); ok {
		m.SetPositionLat(toSemicircles(v))
	}
	if v, ok := value(ride.Longitude); ok {
		m.SetPositionLong(toSemicircles(v))
	}
	message := m.ToMesg(nil)
	for number, f := range writtenFields {
		if v, ok := value(f.channel); ok {
			message.DeveloperFields = append(message.DeveloperFields, proto.DeveloperField{DeveloperDataIndex: 0, Num: byte(number), Value: proto.Float32(float32(v))})
		}
	}
	w.messages = append(w.messages, message)
}

func (w *writer) summary() {
	lap := mesgdef.NewLap(nil).SetTimestamp(w.end()).SetStartTime(w.start()).
		SetTotalElapsedTimeScaled(w.seconds()).SetTotalTimerTimeScaled(w.seconds())
	session := mesgdef.NewSession(nil).SetTimestamp(w.end()).SetStartTime(w.start()).
		SetTotalElapsedTimeScaled(w.seconds()).SetTotalTimerTimeScaled(w.seconds()).
		SetSport(typedef.SportEBiking).SetFirstLapIndex(0).SetNumLaps(1)
	if d := w.track.Values[ride.Distance]; d != nil && !math.IsNaN(d[0]) && d[len(d)-1] >= d[0] {
		lap.SetTotalDistanceScaled(d[len(d)-1] - d[0])
		session.SetTotalDistanceScaled(d[len(d)-1] - d[0])
	}
	w.add(lap)
	w.add(session)
	w.add(mesgdef.NewActivity(nil).SetTimestamp(w.end()).SetTotalTimerTimeScaled(w.seconds()).
		SetNumSessions(1).SetType(typedef.ActivityManual).SetEvent(typedef.EventActivity).SetEventType(typedef.EventTypeStop))
}

// toSemicircles turns degrees into the protocol's unit, of which 2^31 are 180°.
func toSemicircles(degrees float64) int32 {
	return int32(min(math.Round(degrees*(1<<31)/180), math.MaxInt32-1))
}
