package gears_test

import (
	"fmt"
	"log"

	"cogledger/analysis/bike"
	"cogledger/analysis/gears"
	"cogledger/ingest/ride"
)

// Two minutes at 80 crank turns a minute, the second of them two cogs up.
func ExampleInfer() {
	p := bike.Example()
	list := p.Gears()
	var track ride.Track
	for second := range 120 {
		gear := list[3]
		if second >= 60 {
			gear = list[5]
		}
		track.Sample(float64(second))
		track.Put(ride.CadenceRPM, 80)
		track.Put(ride.Speed, 80.0/60*gear.Ratio*p.Circumference())
	}
	r, err := track.Ride()
	if err != nil {
		log.Fatal(err)
	}
	found, err := gears.Infer(r, p, gears.Options{})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(list[found.Index[30]], "then", list[found.Index[90]])
	// Output: 38/28 then 38/21
}
