package markup

import (
	"math"
	"strconv"
	"strings"

	"cogledger/ingest/quantity"
	"cogledger/ingest/ride"
)

// Extensions know the channels that loggers put into the extensions of a track
// point, whatever prefix and spelling they use, and remember what was taken.
type Extensions struct {
	known map[string]guess // by name and unit
	Taken []string         // names outside the common ones, and what they were taken for
}

type guess struct {
	quantity.Guess
	ok bool
}

// The names that are common in track point extensions, lower case.
var common = map[string]ride.Channel{
	"cad": ride.CadenceRPM, "cadence": ride.CadenceRPM,
	"power": ride.RiderPower, "watts": ride.RiderPower, "powerinwatts": ride.RiderPower,
	"atemp": ride.AirTemp, "temp": ride.AirTemp, "temperature": ride.AirTemp,
	"speed": ride.Speed, "distance": ride.Distance,
}

// Take puts the value of an extension element into the newest sample of the
// track, if it is of a channel that the sample lacks.
func (e *Extensions) Take(t *ride.Track, name, unit, text string) {
	key := name + "\x00" + unit
	g, seen := e.known[key]
	if !seen {
		if len(e.known) > 1000 { // a log with that many names is made to harm
			return
		}
		g = e.learn(name, unit)
		if e.known == nil {
			e.known = map[string]guess{}
		}
		e.known[key] = g
	}
	if !g.ok {
		return
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
	if err != nil || math.IsInf(v, 0) {
		return
	}
	newest := len(t.Time) - 1
	if held := t.Values[g.Channel]; held == nil || math.IsNaN(held[newest]) {
		t.Put(g.Channel, g.Unit.Convert(v))
	}
}

func (e *Extensions) learn(name, unit string) guess {
	if c, ok := common[strings.ToLower(name)]; ok {
		if unit == "" {
			unit = c.Unit()
		}
		u, ok := quantity.Parse(unit)
		return guess{quantity.Guess{Channel: c, Unit: u}, ok && u.Kind == quantity.Of(c)}
	}
	g, ok := quantity.Take(name, unit)
	ok = ok && g.Factor == quantity.One
	if ok {
		e.Taken = append(e.Taken, strconv.Quote(name)+" for "+g.Channel.String())
	}
	return guess{g, ok}
}
