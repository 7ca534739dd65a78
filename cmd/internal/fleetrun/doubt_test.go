package fleetrun

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"testing"
)

// Of any fleet at least 30 logs are drawn, of small ones all, and whoever is
// drawn in a large fleet is drawn in a smaller one too.
func TestEnoughRidesAreDrawn(t *testing.T) {
	for _, logs := range []int{1, 5, 29, 30, 119, 120, 239, 240, 500, 3000, 7679, 7680, 20000, 100000} {
		every := DoubtEvery(logs)
		if logs < 120 && every != 1 || every&(every-1) != 0 || DoubtEvery(2*logs) < every {
			t.Errorf("%d logs: one in %d", logs, every)
		}
		for fleet := range uint32(5) {
			drawn := 0
			for i := range logs {
				sum := sha256.Sum256(binary.LittleEndian.AppendUint32(nil, fleet<<20+uint32(i)))
				if (&Job{}).doubts(hex.EncodeToString(sum[:16]), every) {
					drawn++
				}
			}
			if drawn < min(30, logs) || logs < 120 && drawn != logs {
				t.Errorf("fleet %d of %d logs: %d drawn", fleet, logs, drawn)
			}
		}
	}
}
