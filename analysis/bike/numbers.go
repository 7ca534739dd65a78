package bike

import (
	"cmp"
	"slices"
)

// A Number is one numeric value of a profile.
type Number struct {
	Key       string  // dotted, as in the YAML file
	Unit      string  // empty for ratios and counts
	Tolerance float64 // half-width of its 90 % range as a fraction of it where it was typed in, unless the profile says otherwise
	Guess     float64 // the same of a default that nobody looked at
	Least     float64 // smallest value that Check accepts
	Most      float64 // largest
	at        func(*Profile) *float64
}

// In returns the number's value in a profile.
func (n Number) In(p *Profile) float64 { return *n.at(p) }

// Numbers lists every numeric value of a profile that a result rests on.
//
// The tolerances are this project's judgement of what a rider can know without
// a test bench: nameplates and data sheets (a few per cent), values looked up
// for a like bike (15 to 40 %). A default is far wider: it must reach over the
// motors, batteries, riders and tyres that people have. A measured number is taken
// for twice as good as a typed one. All of it is common practice, not a standard.
func Numbers() []Number {
	return []Number{
		{"drive.turns_per_crank", "", 0, 0.4, 0, 400, func(p *Profile) *float64 { return &p.Drive.TurnsPerCrank }},
		{"drive.turns_per_wheel", "", 0, 0.4, 0, 100, func(p *Profile) *float64 { return &p.Drive.TurnsPerWheel }},
		{"chain_loss_factor", "", 0.2, 0.4, 0.2, 5, func(p *Profile) *float64 { return &p.ChainLossFactor }},
		{"battery.nominal_v", "V", 0.02, 0.25, 10, 120, func(p *Profile) *float64 { return &p.Battery.NominalV }},
		{"battery.capacity_wh", "Wh", 0.1, 0.4, 20, 10000, func(p *Profile) *float64 { return &p.Battery.CapacityWh }},
		{"battery.resistance_ohm", "ohm", 0.3, 0.6, 0.001, 2, func(p *Profile) *float64 { return &p.Battery.ResistanceOhm }},
		{"motor.torque_constant_nm_per_a", "N m/A", 0.05, 0.4, 0.005, 5, func(p *Profile) *float64 { return &p.Motor.TorqueConstant }},
		{"motor.resistance_ohm", "ohm", 0.15, 0.7, 0.001, 5, func(p *Profile) *float64 { return &p.Motor.ResistanceOhm }},
		{"motor.coulomb_torque_nm", "N m", 0.4, 0.8, 0, 5, func(p *Profile) *float64 { return &p.Motor.CoulombTorque }},
		{"motor.viscous_nm_per_rad_s", "N m s/rad", 0.4, 0.8, 0, 0.1, func(p *Profile) *float64 { return &p.Motor.Viscous }},
		{"motor.phase_current_limit_a", "A", 0.05, 0.4, 1, 500, func(p *Profile) *float64 { return &p.Motor.PhaseCurrentLimit }},
		{"motor.inertia_kg_m2", "kg m²", 0.3, 0.7, 0, 1, func(p *Profile) *float64 { return &p.Motor.Inertia }},
		{"controller.fixed_w", "W", 0.5, 0.8, 0, 50, func(p *Profile) *float64 { return &p.Controller.FixedW }},
		{"controller.ohm", "ohm", 0.3, 0.6, 0, 1, func(p *Profile) *float64 { return &p.Controller.Ohm }},
		{"controller.volt", "V", 0.3, 0.7, 0, 5, func(p *Profile) *float64 { return &p.Controller.Volt }},
		{"controller.battery_current_limit_a", "A", 0.05, 0.4, 1, 200, func(p *Profile) *float64 { return &p.Controller.BatteryCurrentLimit }},
		{"reduction_efficiency", "", 0.02, 0.05, 0.5, 1, func(p *Profile) *float64 { return &p.ReductionEfficiency }},
		{"thermal.winding_j_per_k", "J/K", 0.2, 0.5, 1, 1e5, func(p *Profile) *float64 { return &p.Thermal.WindingJPerK }},
		{"thermal.housing_j_per_k", "J/K", 0.2, 0.5, 10, 1e6, func(p *Profile) *float64 { return &p.Thermal.HousingJPerK }},
		{"thermal.winding_to_housing_k_per_w", "K/W", 0.3, 0.5, 0.005, 20, func(p *Profile) *float64 { return &p.Thermal.WindingToHousing }},
		{"thermal.housing_to_air_k_per_w", "K/W", 0.3, 0.5, 0.005, 20, func(p *Profile) *float64 { return &p.Thermal.HousingToAir }},
		{"thermal.controller_share", "", 0.9, 0.9, 0, 1, func(p *Profile) *float64 { return &p.Thermal.ControllerShare }},
		{"thermal.winding_limit_c", "°C", 0, 0, 0, 300, func(p *Profile) *float64 { return &p.Thermal.WindingLimitC }},
		{"thermal.ambient_c", "°C", 0, 0.5, -40, 60, func(p *Profile) *float64 { return &p.Thermal.AmbientC }},
		{"mass.bike_kg", "kg", 0.05, 0.3, 5, 400, func(p *Profile) *float64 { return &p.Mass.BikeKg }},
		{"mass.rider_kg", "kg", 0.05, 0.25, 20, 250, func(p *Profile) *float64 { return &p.Mass.RiderKg }},
		{"mass.load_kg", "kg", 0.5, 1, 0, 400, func(p *Profile) *float64 { return &p.Mass.LoadKg }},
		{"road.cda_m2", "m²", 0.2, 0.35, 0.1, 3, func(p *Profile) *float64 { return &p.Road.CdA }},
		{"road.crr", "", 0.3, 0.5, 0.001, 0.05, func(p *Profile) *float64 { return &p.Road.Crr }},
		{"road.bearing_loss_factor", "", 0.3, 0.6, 0.1, 10, func(p *Profile) *float64 { return &p.Road.BearingLossFactor }},
		{"legs.assumed_w", "W", 0.5, 0.7, 0, 1000, func(p *Profile) *float64 { return &p.Legs.AssumedW }},
		{"assist.cutoff_kmh", "km/h", 0, 0, 1, 200, func(p *Profile) *float64 { return &p.Assist.CutoffKmh }},
		{"shifting.price_j", "J", 0, 0, 0, 1e5, func(p *Profile) *float64 { return &p.Shifting.PriceJ }},
		{"shifting.most_per_km", "1/km", 0, 0, 0.1, 100, func(p *Profile) *float64 { return &p.Shifting.MostPerKm }},
		{"shifting.leg_price_w", "W", 0, 0, 0, 1000, func(p *Profile) *float64 { return &p.Shifting.LegPriceW }},
		{"shifting.cogs_per_turn", "1/turn", 0, 0, 0.5, 20, func(p *Profile) *float64 { return &p.Shifting.CogsPerTurn }},
		{"shifting.light_nm", "N m", 0, 0, 1, 500, func(p *Profile) *float64 { return &p.Shifting.LightNm }},
		{"sensors.battery_volts_factor", "", 0.01, 0.01, 0.5, 2, func(p *Profile) *float64 { return &p.Sensors.BatteryVolts }},
		{"sensors.battery_amps_factor", "", 0.02, 0.02, 0.5, 2, func(p *Profile) *float64 { return &p.Sensors.BatteryAmps }},
		{"sensors.rider_power_factor", "", 0.03, 0.03, 0.5, 2, func(p *Profile) *float64 { return &p.Sensors.RiderPower }},
		{"sensors.motor_power_factor", "", 0.05, 0.05, 0.5, 2, func(p *Profile) *float64 { return &p.Sensors.MotorPower }},
	}
}

// A Tolerance is how well one number of a profile is known: it lies within
// Value ± Fraction*Value in nine cases out of ten.
type Tolerance struct {
	Number
	Value    float64
	Fraction float64
}

// Tolerances lists the numbers of the profile that are in doubt, with the
// profile's own tolerance where it gives one.
func (p *Profile) Tolerances() []Tolerance {
	var all []Tolerance
	for _, n := range Numbers() {
		fraction := n.Tolerance
		switch p.OriginOf(n.Key) {
		case Default:
			fraction = n.Guess
		case Measured:
			fraction = n.Tolerance / 2
		}
		if own, said := p.Tolerance[n.Key]; said {
			fraction = own
		}
		if value := n.In(p); fraction > 0 && value != 0 {
			all = append(all, Tolerance{Number: n, Value: value, Fraction: fraction})
		}
	}
	return all
}

// Scaled returns a copy of the profile with one number multiplied by factor.
// An efficiency stays at or below 1. It panics on a key that Numbers lacks.
func (p *Profile) Scaled(key string, factor float64) *Profile {
	numbers := Numbers()
	i := slices.IndexFunc(numbers, func(n Number) bool { return n.Key == key })
	if i < 0 {
		panic("bike: no number has the key " + key)
	}
	scaled := *p
	value := numbers[i].at(&scaled)
	*value *= factor
	if key == "reduction_efficiency" {
		*value = min(*value, 1)
	}
	return &scaled
}

// keysOf lists the keys that Tolerance may hold, in order.
func keysOf(numbers []Number) []string {
	keys := make([]string, len(numbers))
	for i, n := range numbers {
		keys[i] = n.Key
	}
	slices.SortFunc(keys, cmp.Compare)
	return keys
}
