// Package drive is the physics of motor, controller, battery and chain: one
// working point at a time (Unit), the efficient band, whole rides (Run), what
// other gears would have asked (Alternatives), and the numbers behind curves.
//
// Measured battery power is worked back to the motor's current, logged motor
// power forward to the battery, and where neither is logged the road's demand
// beyond the rider's power stands in. Every watt is in one column, so that the
// books of package ledger can show a fault.
package drive
