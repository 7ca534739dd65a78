// Package drive is the physics of motor, controller, battery and chain: one
// working point at a time (Unit), the efficient band, whole rides (Run), what
// other gears would have asked (Alternatives), and the numbers behind curves.
//
// Measured battery power is worked back to the motor's current, logged motor
// power forward to the battery, and where neither is logged the road's demand
// beyond the rider's power stands in. Every watt is in one column, so that the
// books of package ledger can show a fault.
//
// Note: the rotor's kinetic energy is not booked. At 36 turns a crank turn and
// 80 rpm a rotor of 0.0002 kg m² holds J w²/2 = 9 J, where the bike at 6 m/s
// holds 2 kJ; a shift moves some 3 J. On made rides 0.05 to 0.2 % of the
// battery's energy goes through the rotor, at most 12 W in any second, and all
// of it comes back or ends as drag. Booking it would take the derivative of a
// speed logged in whole rpm, whose noise is larger. Package replay's start test
// does count it, as mass.
package drive
