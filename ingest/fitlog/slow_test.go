package fitlog

import (
	"encoding/binary"
	"testing"
)

// slowFile is a FIT file of a few good records and then bytes by which each
// place of a search could be walked from to the end: messages that hold nothing.
func slowFile(length int, size byte) []byte {
	var b []byte
	b = append(b, 0x40, 0, 0, recordMessage, 0, 1, 253, 4, 0x86) // local 0: a record with its time
	b = append(b, 0x41, 0, 0, 0xf0, 0xff)                        // local 1: of size bytes, no record
	if size == 0 {
		b = append(b, 0)
	} else {
		b = append(b, 1, 0, size, 0x0d)
	}
	for i := range uint32(20) {
		b = binary.LittleEndian.AppendUint32(append(b, 0), 1_000_000_000+i)
	}
	for range 4 { // times that do not follow
		b = binary.LittleEndian.AppendUint32(append(b, 0), 1)
	}
	for len(b) < length {
		b = append(b, 1)
	}
	return rebuilt(append([]byte{longHeader, 0x20, 0, 0}, make([]byte, 10)...), b)
}

// Searching for sound bytes takes steps in proportion to the file's length,
// however many damages there are and whatever the bytes spell. By the square
// this file would take 64 thousand times a million steps a damage.
func TestSalvageIsLinear(t *testing.T) {
	for _, size := range []byte{0, 1, 3} {
		data := slowFile(1<<20, size)
		frames, err := walk(data, Limits{}.orDefaults())
		if err != nil || len(frames) == 0 {
			t.Fatal(err)
		}
		if frames[0].records < 20 {
			t.Errorf("size %d: %d of the 20 good records kept", size, frames[0].records)
		}
		w := walker{data: data, patience: 1000, last: 1, sound: longHeader}
		for i := range w.local {
			w.local[i] = definition{known: true, size: 1, stamp: -1}
		}
		if at := w.inStep(len(data)); at >= 0 || w.patience > 0 || w.patience < -1 {
			t.Errorf("size %d: found %d with %d steps left of the search's own", size, at, w.patience)
		}
	}
}
