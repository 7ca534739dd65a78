package fitlog

import "fmt"

const (
	mostDamages  = 100      // places in one file from which reading is taken up again
	searched     = 64 << 10 // bytes behind a damage in which the next sound record is looked for
	enoughInARow = 8        // records in a row, in order of time, that show that bytes are in step
	fewAtTheEnd  = 3        // of them where the file ends sooner
	mostAstray   = 3        // records in a row whose time does not follow, before damage is suspected
	day          = 86400    // s

	// Steps of all searches in a file together, so that its reading takes time in
	// proportion to its length. A damage takes some thousands.
	stepsAFile = 4_000_000
	stepsAByte = 8
)

// salvage walks over all messages from begin to end. Behind a damage it looks
// for the next place where records follow one another in order of time, and
// goes on there. It returns the messages that can be read; why is empty if it
// reached the end.
func (w *walker) salvage(f *frame, begin, end int) (saved []byte, why string) {
	w.at, w.sound = begin, begin
	for damages := 0; ; damages++ {
		why, stopped := w.messages(end)
		if stopped == atEnd || stopped == atLimit || damages == mostDamages {
			return w.joined(saved, begin, w.at), why
		}
		next := w.inStep(end)
		switch {
		case next >= 0:
			f.note(w.at, fmt.Sprintf("%s; %d bytes were passed over and the records behind them read", why, next-w.sound), copyAgain)
			saved = w.joined(saved, begin, w.sound)
			begin, w.at, w.sound = next, next, next
		case stopped == atOddTime: // the clock was set, and the bytes are sound
			w.last, w.sound = 0, w.at
		default:
			return w.joined(saved, begin, w.at), why
		}
		w.astray = 0
	}
}

// joined appends bytes to those saved, without a copy while they are all of one
// piece.
func (w *walker) joined(saved []byte, from, to int) []byte {
	if saved == nil {
		return w.data[from:to:to]
	}
	return append(saved, w.data[from:to]...)
}

// time is the timestamp of a data message of this kind.
func (d *definition) time(message []byte) (uint32, bool) {
	if d.stamp < 0 || d.stamp+4 > len(message) {
		return 0, false
	}
	return d.order.Uint32(message[d.stamp:]), true
}

// follows reports whether a record's time can come after the last one's.
func (w *walker) follows(t uint32) bool { return w.last == 0 || t-w.last <= day }

// inStep is the next place behind the last sound record from which the bytes
// are in step, -1 if there is none nearby.
func (w *walker) inStep(end int) int {
	if w.last == 0 {
		return -1
	}
	for at := w.sound + 1; at < min(end, w.sound+searched) && w.patience > 0; at++ {
		if w.stepsFrom(at, end) {
			return at
		}
	}
	return -1
}

// stepsFrom reports whether messages of known kinds stand in a row from here,
// with enough records in order of time among them. Messages that hold nothing
// are legal and show nothing: any byte may be one.
func (w *walker) stepsFrom(at, end int) bool {
	records, last := 0, w.last
	for at < end && records < enoughInARow {
		header := w.data[at]
		if header&(compressedHeader|definitionHeader) == definitionHeader {
			break // kinds of messages change here: what came before must do
		}
		local := header & 0x0f
		if header&compressedHeader != 0 {
			local = header >> 5 & 3
		}
		w.patience--
		d := &w.local[local]
		next := at + 1 + d.size
		if !d.known || d.size == 0 || next > end || w.patience < 0 {
			return false
		}
		if d.global == recordMessage {
			t, ok := d.time(w.data[at+1:])
			if !ok || t-last > day {
				return false
			}
			records, last = records+1, t
		}
		at = next
	}
	return records == enoughInARow || records >= fewAtTheEnd && at <= end
}
