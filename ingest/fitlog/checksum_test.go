package fitlog

import (
	"testing"

	"github.com/tormoder/fit/dyncrc16"
	"pgregory.net/rapid"
)

// The reference is the checksum of github.com/tormoder/fit.
func TestSound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		data := rapid.SliceOf(rapid.Byte()).Draw(t, "data")
		sum := dyncrc16.Checksum(data)
		whole := append(data, byte(sum), byte(sum>>8))
		if !sound(whole) {
			t.Fatal("bytes with their own checksum do not count as sound")
		}
		whole[rapid.IntRange(0, len(whole)-1).Draw(t, "place")] ^= byte(rapid.IntRange(1, 255).Draw(t, "damage"))
		if sound(whole) {
			t.Fatal("a changed byte goes unseen")
		}
	})
}
