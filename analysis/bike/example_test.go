package bike_test

import (
	"fmt"

	"cogledger/analysis/bike"
)

// A profile lists its gears, and how far each moves the bike a crank turn.
func ExampleProfile_Gears() {
	p := bike.Example()
	for _, g := range p.Gears()[:2] {
		fmt.Printf("%s: %.2f m a crank turn\n", g, g.Ratio*p.Circumference())
	}
	// Output:
	// 38/42: 2.05 m a crank turn
	// 38/36: 2.39 m a crank turn
}
