package ride_test

import (
	"fmt"
	"log"

	"cogledger/ingest/ride"
)

// A track holds samples at the log's own times; its ride runs on a one-second
// clock, and what no sample tells is NaN.
func ExampleTrack_Ride() {
	var t ride.Track
	for _, second := range []float64{0, 1, 2, 4} {
		t.Sample(second)
		t.Put(ride.Speed, 5+second)
	}
	r, err := t.Ride()
	if err != nil {
		log.Fatal(err)
	}
	for i := range r.Len() {
		fmt.Printf("%d s: %.1f m/s\n", i, r.At(ride.Speed, i))
	}
	fmt.Println("cadence:", r.At(ride.CadenceRPM, 0))
	// Output:
	// 0 s: 5.0 m/s
	// 1 s: 6.0 m/s
	// 2 s: 7.0 m/s
	// 3 s: 8.0 m/s
	// 4 s: 9.0 m/s
	// cadence: NaN
}
