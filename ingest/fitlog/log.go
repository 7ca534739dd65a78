package fitlog

import (
	"fmt"
	"math"
	"strings"
	"time"

	"cogledger/ingest/ride"
)

// epoch is the moment that FIT times count from.
var epoch = time.Date(1989, time.December, 31, 0, 0, 0, 0, time.UTC)

const (
	// powerOn is the time below which a device's clock was not yet set: it
	// counts seconds since it was switched on.
	powerOn = 0x10000000
	// madeLabel begins the product name of a file that was made by simulation.
	madeLabel = "made by simulation"
	// development is the maker's number that the protocol keeps for files that
	// no device wrote.
	development = 255
)

// A log gathers what either decoder finds in one FIT file.
type log struct {
	track       *ride.Track
	start       uint32 // FIT time that the track's epoch stands for
	absolute    bool   // some time counts from the protocol's epoch
	wheelSensor bool
	sessions    []session
	fields      fieldMap // developer fields, by what they were taken for
}

// A session is a stretch of the file in one kind of sport.
type session struct {
	start, seconds float64 // s since the track's epoch
	sport          uint8
}

func newLog(file string) *log {
	return &log{track: &ride.Track{Name: file, Sources: []ride.Source{{File: file, Format: "FIT"}}}}
}

// A record holds the values of one record message in the ride's units, NaN
// where missing.
type record [ride.ChannelCount]float64

// sample appends a record.
func (l *log) sample(fitTime uint32, r *record) {
	l.track.Add(l.seconds(fitTime), (*[ride.ChannelCount]float64)(r))
}

// seconds is a FIT time on the track's clock, which begins with the first
// time that is seen.
func (l *log) seconds(fitTime uint32) float64 {
	if l.start == 0 {
		l.start = fitTime
	}
	l.absolute = l.absolute || fitTime >= powerOn
	return float64(fitTime) - float64(l.start)
}

// device notes who wrote the file.
func (l *log) device(maker string, makerNumber, product uint16, productName string, serial uint32) {
	source := &l.track.Sources[0]
	source.Device = ride.Label(productName)
	if source.Device == "" && makerNumber != math.MaxUint16 {
		source.Device = ride.Label(maker)
		if product != math.MaxUint16 {
			source.Device += fmt.Sprintf(" %d", product)
		}
	}
	if serial != 0 && serial != math.MaxUint32 {
		source.Serial = fmt.Sprint(serial)
	}
	source.Made = makerNumber == development && strings.HasPrefix(productName, madeLabel)
}

// sensor notes a sensor that took part. The types are ANT+ device types where
// the source says so or says nothing, else Bluetooth ones.
func (l *log) sensor(source, kind uint8) {
	const (
		antPlus, bluetooth, unsaid          = 1, 3, 0xff
		antSpeed, antSpeedCadence           = 123, 121
		bluetoothSpeedCadence, bluetoothSpd = 3, 4
	)
	switch source {
	case antPlus, unsaid:
		l.wheelSensor = l.wheelSensor || kind == antSpeed || kind == antSpeedCadence
	case bluetooth:
		l.wheelSensor = l.wheelSensor || kind == bluetoothSpd || kind == bluetoothSpeedCadence
	}
}

// shift appends a gear change. Of several at one time the last counts.
func (l *log) shift(fitTime, data uint32) {
	s := GearChange(data)
	s.Second = l.seconds(fitTime)
	if n := len(l.track.Shifts); n > 0 && l.track.Shifts[n-1].Second == s.Second {
		l.track.Shifts[n-1] = s
		return
	}
	l.track.Shifts = append(l.track.Shifts, s)
}

func (l *log) session(start uint32, seconds float64, sport uint8) {
	if start != math.MaxUint32 && !math.IsNaN(seconds) {
		l.sessions = append(l.sessions, session{l.seconds(start), seconds, sport})
	}
}

func (l *log) note(place, text, cure string) {
	l.track.Notes = append(l.track.Notes, ride.Note{File: l.track.Sources[0].File, Place: place, Text: text, Cure: cure})
}

// finish returns the track with what only the whole file can tell.
func (l *log) finish() *ride.Track {
	t := l.track
	l.fields.finish(l)
	switch {
	case !t.Has(ride.Speed):
	case l.wheelSensor:
		t.Origins[ride.Speed] = ride.WheelSensor
	case t.Has(ride.Latitude):
		t.Origins[ride.Speed] = ride.Satellite
	}
	if t.Origins[ride.Speed] != ride.Absent && t.Has(ride.Distance) {
		t.Origins[ride.Distance] = t.Origins[ride.Speed]
	}
	if l.absolute {
		t.Epoch = epoch.Add(time.Duration(l.start) * time.Second)
	} else if len(t.Time) > 0 {
		l.note("", "the device's clock was not set; times count from when it was switched on", "set the device's clock")
	}
	l.keepCycling()
	return t
}

// Sports of the protocol that are done on a bike.
const (
	cycling = 2
	eBiking = 21
)

// keepCycling leaves out the other sports of a file that holds several.
func (l *log) keepCycling() {
	onBike := 0
	for _, s := range l.sessions {
		if s.sport == cycling || s.sport == eBiking {
			onBike++
		}
	}
	switch {
	case len(l.sessions) == 0 || onBike == len(l.sessions):
		return
	case onBike == 0:
		if sport := l.sessions[0].sport; sport != 0 && sport != 0xff { // generic or not said
			l.track.Sources[0].Sport = fmt.Sprintf("sport %d", sport)
			l.note("", fmt.Sprintf("the log says that it is not of cycling (sport %d); it was read all the same", sport), "")
		}
		return
	}
	t := l.track
	kept := 0
	for i, s := range t.Time {
		if !l.onBike(s) {
			continue
		}
		t.Time[kept] = s
		for c := range t.Values {
			if t.Values[c] != nil {
				t.Values[c][kept] = t.Values[c][i]
			}
		}
		kept++
	}
	dropped := len(t.Time) - kept
	t.Time = t.Time[:kept]
	for c := range t.Values {
		if t.Values[c] != nil {
			t.Values[c] = t.Values[c][:kept]
		}
	}
	l.note("", fmt.Sprintf("the log holds %d sports; %d records of others than cycling were left out", len(l.sessions), dropped), "")
}

func (l *log) onBike(seconds float64) bool {
	for _, s := range l.sessions {
		if (s.sport == cycling || s.sport == eBiking) && seconds >= s.start && seconds <= s.start+s.seconds {
			return true
		}
	}
	return false
}
