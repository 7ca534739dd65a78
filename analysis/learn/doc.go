// Package learn finds numbers of a bike profile in rides of that bike: the
// battery's resistance, the motor's constant and drag, air drag and rolling
// resistance. Each comes with its 90 % interval, or is refused where the logs
// cannot tell it.
package learn
