package doubt_test

import (
	"fmt"

	"cogledger/analysis/doubt"
)

// Two independent doubts of 3 and 4 add up to 5, as in the GUM.
func ExampleAround() {
	moved := func(by float64) func() []float64 { return func() []float64 { return []float64{100 + by} } }
	f := doubt.Around([]float64{100}, []doubt.Source{
		{Name: "length", Up: moved(3), Down: moved(-3)},
		{Name: "width", Up: moved(4), Down: moved(-4)},
	})
	fmt.Printf("%.0f, between %.0f and %.0f\n", f[0].Value, f[0].Low, f[0].High)
	// Output: 100, between 95 and 105
}
