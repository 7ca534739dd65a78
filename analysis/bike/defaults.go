package bike

// defaults is the profile before a file is read into it. Name, wheel,
// drivetrain, drive and battery have none: they differ too much from bike to
// bike. Motor and controller values are those of a 250 W class geared motor at
// 36 to 48 V; each default is marked as such in every report it enters.
func defaults() Profile {
	return Profile{
		Motor: Motor{
			TorqueConstant: 0.095, ResistanceOhm: 0.12, CoulombTorque: 0.015,
			Viscous: 0.00006, PhaseCurrentLimit: 45, Inertia: 0.0002,
		},
		Controller:          Controller{FixedW: 3, Ohm: 0.012, Volt: 0.25, BatteryCurrentLimit: 22},
		ReductionEfficiency: 0.95,
		ChainLossFactor:     1,
		Thermal: Thermal{
			WindingJPerK: 120, HousingJPerK: 1500, WindingToHousing: 0.45, HousingToAir: 0.9, ControllerShare: 0.5,
			InsulationClass: "F", AmbientC: 20,
		},
		Mass:     Mass{BikeKg: 25, RiderKg: 78, LoadKg: 5},
		Road:     Road{CdA: 0.55, Crr: 0.008, BearingLossFactor: 1},
		Legs:     Legs{BandRPM: [2]float64{70, 95}, AssumedW: 80},
		Assist:   Assist{CutoffKmh: 25},
		Shifting: Shifting{PriceJ: 30, LeastDwellS: 4, MostPerKm: 6, LegPriceW: 4, CogsPerTurn: 2, LightNm: 35},
		Sensors:  Sensors{BatteryVolts: 1, BatteryAmps: 1, RiderPower: 1, MotorPower: 1},
	}
}

// WindingLimit is the temperature in °C that the winding's insulation is made
// for: thermal.winding_limit_c where set, else the class of IEC 60085.
func (t Thermal) WindingLimit() float64 {
	if t.WindingLimitC > 0 {
		return t.WindingLimitC
	}
	limit, _ := insulationLimit(t.InsulationClass) // Check refuses unknown letters
	return limit
}

// insulationLimit gives the temperature of an IEC 60085 class, °C.
func insulationLimit(class string) (float64, bool) {
	switch class {
	case "B":
		return 130, true
	case "F":
		return 155, true
	case "H":
		return 180, true
	}
	return 0, false
}
