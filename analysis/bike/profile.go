// Package bike holds what is known of one bike: wheel, gears, motor, battery,
// masses and the rider's preferences. A Profile is read from YAML, checked, and
// filled with stated defaults; nothing in it is guessed in silence.
package bike

import (
	"fmt"
	"math"
)

// A Profile is one bike. Keys and units are those of the YAML file.
type Profile struct {
	Name       string     `yaml:"name"`
	Wheel      Wheel      `yaml:"wheel"`
	Drivetrain Drivetrain `yaml:"drivetrain"`
	Drive      Drive      `yaml:"drive"`
	Battery    Battery    `yaml:"battery"`

	Motor               Motor      `yaml:"motor"`
	Controller          Controller `yaml:"controller"`
	ReductionEfficiency float64    `yaml:"reduction_efficiency"`
	ChainLossFactor     float64    `yaml:"chain_loss_factor"` // on the loss of a clean, oiled chain
	Thermal             Thermal    `yaml:"thermal"`
	Mass                Mass       `yaml:"mass"`
	Road                Road       `yaml:"road"`
	Legs                Legs       `yaml:"legs"`
	Assist              Assist     `yaml:"assist"`
	Shifting            Shifting   `yaml:"shifting"`
	Sensors             Sensors    `yaml:"sensors"`

	// Tolerance is the half-width of the 90 % range of a value as a fraction of
	// it, by dotted key ("motor.resistance_ohm"); see Tolerances.
	Tolerance map[string]float64 `yaml:"tolerance"`

	Origins Origins `yaml:"origin"`

	// Defaulted lists the dotted keys that the file left to their defaults, or
	// marks as such and did not change.
	Defaulted []string `yaml:"-"`
}

// Wheel is the driven wheel.
type Wheel struct {
	Tyre      string  `yaml:"tyre"`       // ISO 5775, width-bead seat diameter in mm, "47-622"
	RolloutMM float64 `yaml:"rollout_mm"` // circumference under load; beats Tyre
}

// Drivetrain lists what is fitted: rings and cogs, or one ring, one cog and a gear hub.
type Drivetrain struct {
	Chainrings []int     `yaml:"chainrings"`
	Cogs       []int     `yaml:"cogs"`
	HubGears   []float64 `yaml:"hub_gears"` // ratio of hub shell to sprocket, lowest first
}

// DriveKind tells where the motor pushes.
type DriveKind string

const (
	Mid DriveKind = "mid" // at the chainring, through the gears
	Hub DriveKind = "hub" // at the wheel, one ratio
)

// Drive is how the motor is coupled.
type Drive struct {
	Kind          DriveKind `yaml:"kind"`
	TurnsPerCrank float64   `yaml:"turns_per_crank"` // motor turns a chainring turn, mid drive
	TurnsPerWheel float64   `yaml:"turns_per_wheel"` // motor turns a wheel turn, hub drive; 1 is direct
}

// Battery as printed on it, with its inner resistance.
type Battery struct {
	NominalV      float64 `yaml:"nominal_v"`
	CapacityWh    float64 `yaml:"capacity_wh"`
	ResistanceOhm float64 `yaml:"resistance_ohm"` // of the whole pack, direct current
}

// Motor is the equivalent direct-current machine.
type Motor struct {
	TorqueConstant    float64 `yaml:"torque_constant_nm_per_a"`
	ResistanceOhm     float64 `yaml:"resistance_ohm"`        // at 25 °C, terminal to terminal
	CoulombTorque     float64 `yaml:"coulomb_torque_nm"`     // drag that does not depend on speed
	Viscous           float64 `yaml:"viscous_nm_per_rad_s"`  // drag that grows with speed
	PhaseCurrentLimit float64 `yaml:"phase_current_limit_a"` // A in the equivalent machine
	Inertia           float64 `yaml:"inertia_kg_m2"`         // of the rotor
}

// Controller loss is Fixed + Volt*|I| + Ohm*I^2 with the motor current I.
type Controller struct {
	FixedW              float64 `yaml:"fixed_w"`
	Ohm                 float64 `yaml:"ohm"`
	Volt                float64 `yaml:"volt"`
	BatteryCurrentLimit float64 `yaml:"battery_current_limit_a"`
}

// Thermal is the two-node model of the motor.
type Thermal struct {
	WindingJPerK     float64 `yaml:"winding_j_per_k"`
	HousingJPerK     float64 `yaml:"housing_j_per_k"`
	WindingToHousing float64 `yaml:"winding_to_housing_k_per_w"`
	HousingToAir     float64 `yaml:"housing_to_air_k_per_w"`
	ControllerShare  float64 `yaml:"controller_share"` // of the controller's loss that warms the motor's housing: 1 in one case, 0 apart
	InsulationClass  string  `yaml:"insulation_class"` // IEC 60085 letter: B, F or H
	WindingLimitC    float64 `yaml:"winding_limit_c"`  // beats the class
	AmbientC         float64 `yaml:"ambient_c"`        // used where the log has no air temperature
}

// Mass of what rolls.
type Mass struct {
	BikeKg  float64 `yaml:"bike_kg"`
	RiderKg float64 `yaml:"rider_kg"`
	LoadKg  float64 `yaml:"load_kg"`
}

// Total is the mass of bike, rider and load in kg.
func (m Mass) Total() float64 { return m.BikeKg + m.RiderKg + m.LoadKg }

// Road is what resists.
type Road struct {
	CdA float64 `yaml:"cda_m2"`
	Crr float64 `yaml:"crr"`

	BearingLossFactor float64 `yaml:"bearing_loss_factor"` // on the drag of well-kept wheel bearings
}

// Legs is the rider.
type Legs struct {
	BandRPM  [2]float64 `yaml:"band_rpm"`
	AssumedW float64    `yaml:"assumed_w"` // at the pedals while pedalling, where the log has no rider power
}

// Assist is what the drive is set to.
type Assist struct {
	CutoffKmh float64 `yaml:"cutoff_kmh"`
}

// Shifting is what a shift is worth.
type Shifting struct {
	PriceJ      float64 `yaml:"price_j"`       // battery energy that a shift must save to be worth it
	LeastDwellS int     `yaml:"least_dwell_s"` // least time in a gear
	MostPerKm   float64 `yaml:"most_per_km"`   // shifts a km, each cog counted in a derailleur
	LegPriceW   float64 `yaml:"leg_price_w"`   // price a second, in W, of legs 10 rpm outside their band; grows with the square

	// Mechanism is what moves the chain or the gears: empty means Derailleur, or
	// GearHub where hub gears are fitted.
	Mechanism   Mechanism `yaml:"mechanism"`
	CogsPerTurn float64   `yaml:"cogs_per_turn"` // that a derailleur moves in a crank turn
	LightNm     float64   `yaml:"light_nm"`      // at the chainring; a shift under more needs easing off and is twice as dear
}

// Mechanism tells when a drivetrain can shift.
type Mechanism string

const (
	Derailleur Mechanism = "derailleur" // only while the cranks turn forward, cog by cog, not under full load
	GearHub    Mechanism = "hub"        // at rest and with the load off, any number of steps at once
	Gearbox    Mechanism = "gearbox"    // at any time, any number of steps at once: one made to shift under load
)

// Shifter is the mechanism given, or the one that fits the drivetrain.
func (p *Profile) Shifter() Mechanism {
	switch {
	case p.Shifting.Mechanism != "":
		return p.Shifting.Mechanism
	case len(p.Drivetrain.HubGears) > 0:
		return GearHub
	}
	return Derailleur
}

// Sensors corrects what the logs' sensors are known to misread: the logged
// value is multiplied by the factor. Their tolerances are the sensors' own.
type Sensors struct {
	BatteryVolts float64 `yaml:"battery_volts_factor"`
	BatteryAmps  float64 `yaml:"battery_amps_factor"`
	RiderPower   float64 `yaml:"rider_power_factor"`
	MotorPower   float64 `yaml:"motor_power_factor"`
}

// A Gear is one combination of ring and cog, or one step of a gear hub.
type Gear struct {
	Front, Rear int     // teeth
	HubStep     int     // 1.. in a gear hub, 0 in a derailleur drive
	Ratio       float64 // wheel turns a crank turn
}

// String names the gear as riders do: "42/13", or "42/18 step 3" in a gear hub.
func (g Gear) String() string {
	s := fmt.Sprintf("%d/%d", g.Front, g.Rear)
	if g.HubStep > 0 {
		s += fmt.Sprintf(" step %d", g.HubStep)
	}
	return s
}

// Gears lists every gear of the bike, ring by ring from the smallest ring, and
// within a ring from the lowest (easiest) to the tallest.
// Every per-second gear index in this program counts in this list.
func (p *Profile) Gears() []Gear {
	var all []Gear
	for _, front := range ascending(p.Drivetrain.Chainrings) {
		cogs := ascending(p.Drivetrain.Cogs)
		for k := len(cogs) - 1; k >= 0; k-- {
			base := float64(front) / float64(cogs[k])
			if len(p.Drivetrain.HubGears) == 0 {
				all = append(all, Gear{Front: front, Rear: cogs[k], Ratio: base})
				continue
			}
			for s, h := range p.Drivetrain.HubGears {
				all = append(all, Gear{Front: front, Rear: cogs[k], HubStep: s + 1, Ratio: base * h})
			}
		}
	}
	return all
}

// Circumference is the driven wheel's rollout in metres, from rollout_mm where
// given, else from the tyre size.
func (p *Profile) Circumference() float64 {
	if p.Wheel.RolloutMM > 0 {
		return p.Wheel.RolloutMM / 1000
	}
	c, err := TyreCircumference(p.Wheel.Tyre)
	if err != nil {
		return math.NaN() // Check refuses such a profile
	}
	return c
}
