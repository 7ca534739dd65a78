package fitlog

import (
	"bytes"
	"encoding/binary"
	"fmt"

	"cogledger/ingest/ride"

	"github.com/muktihari/fit/profile/basetype"
	"github.com/muktihari/fit/proto"
	"github.com/tormoder/fit/dyncrc16"
)

// Numbers of the FIT protocol.
const (
	signature        = ".FIT"
	shortHeader      = 12
	longHeader       = 14
	recordMessage    = 20
	describesField   = 206
	localMessages    = 16
	compressedHeader = 0x80
	definitionHeader = 0x40
	developerFields  = 0x20
)

// A frame is one FIT file in a chain, walked but not decoded.
type frame struct {
	start   int    // its first byte in the chain
	bytes   []byte // a whole FIT file: header, messages up to the damage, checksum
	records int    // how many the walk saw
	extra   bool   // records hold fields that the standard decoder does not know or reads wrongly
	packed  bool   // records hold fields that unpack to others
	notes   []ride.Note
}

// walk parts the bytes into frames and finds where they break.
func walk(data []byte, limits Limits) ([]frame, error) {
	at := findHeader(data, 0)
	if at < 0 {
		return nil, fmt.Errorf("%w: the signature %q is missing; choose a file written by a bike computer, or copy it again", ErrNotFIT, signature)
	}
	var frames []frame
	left, next, patience := limits, 0, stepsAFile+stepsAByte*len(data)
	for at >= 0 && len(frames) < limits.Parts {
		w := walker{data: data, at: at, left: left, patience: patience}
		f, end := w.frame()
		if at > next {
			f.note(next, fmt.Sprintf("%d bytes that are no FIT file were passed over", at-next), "")
		}
		f.records = max(0, left.Records-w.left.Records)
		left, patience = w.left, w.patience
		frames = append(frames, f)
		next, at = end, findHeader(data, end)
	}
	if next < len(data) {
		frames[len(frames)-1].note(next, fmt.Sprintf("%d bytes from here on could not be read", len(data)-next), "")
	}
	return frames, nil
}

// findHeader is the start of the next header at or after from, -1 if none.
func findHeader(data []byte, from int) int {
	for from <= len(data)-shortHeader {
		i := bytes.Index(data[from:], []byte(signature))
		if i < 0 {
			return -1
		}
		if i >= 8 {
			return from + i - 8
		}
		from += i + len(signature)
	}
	return -1
}

// A definition is what the walk needs to know of a local message.
type definition struct {
	known  bool
	global uint16
	size   int // bytes of one data message, without its header
	stamp  int // where its timestamp stands, -1 if it has none
	order  binary.ByteOrder
}

type walker struct {
	data      []byte
	at        int
	left      Limits // of what may still come
	described int    // developer fields
	local     [localMessages]definition
	extra     bool
	packed    bool

	sound  int    // the end of the last record whose time follows the one before
	last   uint32 // that record's time
	astray int    // records since then

	patience int // steps that may still be taken in search of sound bytes
}

// A stop is why a walk ended.
type stop uint8

const (
	atEnd     stop = iota
	atLimit        // more than a ride can hold
	atDamage       // bytes that are no message
	atOddTime      // records whose times do not follow: damage, or a clock that was set
)

// frame walks one file of the chain and returns it with the place where the
// next may start.
func (w *walker) frame() (f frame, next int) {
	start := w.at
	f.start = start
	header := int(w.data[start])
	if header != shortHeader && header != longHeader {
		f.note(start, fmt.Sprintf("the header's size reads %d; it was taken for %d", header, longHeader), "")
		header = longHeader
	}
	begin := min(start+header, len(w.data))
	declared := int(binary.LittleEndian.Uint32(w.data[start+4:]))
	end := begin + declared
	whole := declared > 0 && end <= len(w.data)-2
	if !whole {
		end = len(w.data)
	}
	saved, why := w.salvage(&f, begin, end)
	switch {
	case why != "":
		f.note(w.at, why+"; all records before this place were read", copyAgain)
	case declared == 0:
		f.note(start+4, "the header does not tell the size of the file, as after a flat battery; all whole records were read", "")
	case !whole:
		f.note(len(w.data), fmt.Sprintf("the file ends %d bytes early; all records before this place were read", begin+declared+2-len(w.data)), copyAgain)
	}
	f.extra, f.packed = w.extra, w.packed
	next = w.at
	if whole {
		next = end + 2
	}
	whole = whole && len(f.notes) == 0
	if whole && header == longHeader {
		sum := binary.LittleEndian.Uint16(w.data[start+12:])
		if sum != 0 && sum != dyncrc16.Checksum(w.data[start:start+12]) {
			f.note(start+12, "the header's checksum is wrong; the records were read all the same", "")
			whole = false
		}
	}
	if whole {
		f.bytes = w.data[start:next]
		return f, next
	}
	f.bytes = rebuilt(w.data[start:begin], saved)
	return f, next
}

const copyAgain = "copy the file from the device again"

// rebuilt is a sound file of the messages that could be saved.
func rebuilt(header, messages []byte) []byte {
	b := make([]byte, 0, longHeader+len(messages)+2)
	b = append(b, longHeader)
	b = append(b, header[1:4]...)
	b = binary.LittleEndian.AppendUint32(b, uint32(len(messages)))
	b = append(b, signature...)
	b = binary.LittleEndian.AppendUint16(b, dyncrc16.Checksum(b))
	b = append(b, messages...)
	return binary.LittleEndian.AppendUint16(b, dyncrc16.Checksum(b))
}

// messages walks over the messages up to end. If it stops before, it says why,
// and stands at the start of the first message that cannot be read.
func (w *walker) messages(end int) (why string, at stop) {
	for w.at < end {
		header := w.data[w.at]
		next, local := w.at+1, header&0x0f
		if header&(compressedHeader|definitionHeader) == definitionHeader {
			if next, why = w.define(local, header&developerFields != 0, next, end); why != "" {
				return why, atDamage
			}
			w.at = next
			continue
		}
		if header&compressedHeader != 0 {
			local = header >> 5 & 3
		}
		d := &w.local[local]
		if !d.known {
			return fmt.Sprintf("message type %d was never defined, so the bytes are damaged", local), atDamage
		}
		if next += d.size; next > end {
			return "the file ends inside a message", atDamage
		}
		if w.left.Messages--; w.left.Messages < 0 {
			return "the file holds more messages than a ride can", atLimit
		}
		switch d.global {
		case recordMessage:
			if w.left.Records--; w.left.Records < 0 {
				return "the file holds more records than a ride can", atLimit
			}
			t, ok := d.time(w.data[w.at+1:])
			switch {
			case !ok:
				w.sound = next
			case w.follows(t):
				w.sound, w.last, w.astray = next, t, 0
			default:
				if w.astray++; w.astray == mostAstray {
					return "the times of the records jump, so the bytes are damaged", atOddTime
				}
			}
		case describesField:
			if w.described++; w.described > mostFields {
				return "the file describes more developer fields than a record can hold", atLimit
			}
		}
		w.at = next
	}
	return "", atEnd
}

// define reads the definition of a local message and returns where it ends.
func (w *walker) define(local byte, developer bool, at, end int) (next int, why string) {
	const early = "the file ends inside a definition"
	if at+5 > end {
		return at, early
	}
	d := definition{known: true, stamp: -1, order: binary.LittleEndian}
	switch w.data[at+1] {
	case 0:
	case 1:
		d.order = binary.BigEndian
	default:
		return at, "a definition has no byte order, so the bytes are damaged"
	}
	d.global = d.order.Uint16(w.data[at+2:])
	fields := int(w.data[at+4])
	at += 5
	if at+3*fields > end {
		return at, early
	}
	extra, packed := false, false
	for ; fields > 0; fields, at = fields-1, at+3 {
		number, size, base := w.data[at], w.data[at+1], w.data[at+2]
		if !basetype.BaseType(base).Valid() {
			return at, fmt.Sprintf("a definition has a field of unknown type %#x, so the bytes are damaged", base)
		}
		if number == proto.FieldNumTimestamp && size == 4 {
			d.stamp = d.size
		}
		d.size += int(size)
		switch number {
		case fieldMotorPower, fieldBatteryLevel, fieldAssistMode, fieldAssistPercent:
			extra = true
		case fieldCompressedSpeedDistance, fieldCycles, fieldCompressedPower:
			extra, packed = true, true
		}
	}
	if developer {
		if at+1 > end {
			return at, early
		}
		fields = int(w.data[at])
		at++
		if at+3*fields > end {
			return at, early
		}
		for ; fields > 0; fields, at = fields-1, at+3 {
			d.size += int(w.data[at+1])
			extra = true
		}
	}
	w.local[local] = d
	if d.global == recordMessage {
		w.extra, w.packed = w.extra || extra, w.packed || packed
	}
	return at, ""
}

func (f *frame) note(at int, text, cure string) {
	f.notes = append(f.notes, ride.Note{Place: fmt.Sprintf("byte %d", at), Text: text, Cure: cure})
}
