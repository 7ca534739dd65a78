package drive

import "strings"

// RestsOn reports whether the motor's side of a series (battery energy,
// losses, classes, winding temperature, and the matrix made from it) can change
// with a number of the profile, named by its dotted key. Whoever varies the
// profile to find how sure a result is can leave the other numbers out.
func (s *Series) RestsOn(key string) bool {
	switch {
	case key == "motor.inertia_kg_m2": // the rotor's spin is not booked: see the package's note
		return false
	case strings.HasPrefix(key, "shifting."), key == "battery.capacity_wh":
		return false
	case strings.HasPrefix(key, "road."), strings.HasPrefix(key, "mass."), strings.HasPrefix(key, "assist."):
		return s.Knowledge == FromRoad
	case strings.HasPrefix(key, "sensors.battery_"):
		return s.Knowledge == FromBattery
	case key == "sensors.motor_power_factor":
		return s.Knowledge == FromMotorPower
	case key == "legs.assumed_w":
		return !s.LegsMeasured
	}
	return true
}
