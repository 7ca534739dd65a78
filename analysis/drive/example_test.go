package drive_test

import (
	"fmt"

	"cogledger/analysis/drive"
)

// Published worked case: 48/24 teeth at 80 rpm, friction 0.09, pins of 1.75968 mm,
// 300 N in the chain.
func ExamplePinLoss() {
	const rpm = 0.10471975511965977 // rad/s
	fmt.Printf("%.3f W\n", drive.PinLoss(48, 24, 80*rpm, 0.09, 1.75968e-3, 300))
	// Output: 1.876 W
}
