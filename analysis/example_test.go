package analysis_test

import (
	"fmt"
	"log"

	"cogledger/analysis"
	"cogledger/analysis/bike"
	"cogledger/analysis/made"
	"cogledger/ingest/ride"
)

// A review says what it found and what the log can bear. This simulated ride has
// every channel but the power of the rider.
func ExampleReview() {
	p := bike.Example()
	track := made.Week(p, made.Options{Seed: 1})[0].Tracks[0]
	track.Values[ride.RiderPower] = nil
	r, err := track.Ride()
	if err != nil {
		log.Fatal(err)
	}
	res, err := analysis.Review(r, p, analysis.Options{SkipDoubt: true, SkipReplays: true})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("battery %.0f Wh\n", res.Headline.BatteryWh.Value)
	fmt.Println(res.Bears.Rider.Sentence())
	// Output:
	// battery 51 Wh
	// The log holds no power of the rider. Fit a power meter, or take what the legs gave as not known.
}
