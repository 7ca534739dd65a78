package learn

import (
	"fmt"
	"maps"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/analysis/drive"
	"cogledger/analysis/gears"
	"cogledger/analysis/road"
	"cogledger/ingest/ride"
)

// A Read is a ride with what the analysis made of it under the profile as it
// stands.
type Read struct {
	Ride  *ride.Ride
	Gears *gears.Inference
	Road  *road.Series
	Drive *drive.Series
}

// A Finding is one number of the profile as learnt.
type Finding struct {
	Key    string // dotted, as in the profile
	Was    float64
	Figure doubt.Figure
}

// Findings are what some rides tell of their bike, and what they do not.
type Findings struct {
	Learnt   []Finding
	Refused  []error // each wraps ErrCannotTell and says what is missing
	Coasting CoastFit
	Winds    []Wind       // one a ride, where air drag was learnt
	LoadAt25 doubt.Figure // W, where air drag was learnt; zero otherwise
}

// All learns whatever the rides tell, starting from the profile they were read
// with.
func All(rides []Read, p *bike.Profile) Findings {
	var f Findings
	logs := make([]*ride.Ride, len(rides))
	for i, r := range rides {
		logs[i] = r.Ride
	}
	if b, err := Battery(logs, p); err != nil {
		f.Refused = append(f.Refused, err)
	} else {
		f.add("battery.resistance_ohm", p.Battery.ResistanceOhm, b.Resistance)
	}
	if m, err := Motor(rides, p); err != nil {
		f.Refused = append(f.Refused, err)
	} else {
		if m.ConstantTold {
			f.add("motor.torque_constant_nm_per_a", p.Motor.TorqueConstant, m.TorqueConstant)
		} else {
			f.Refused = append(f.Refused, fmt.Errorf("torque constant: %w", refuse("the motor did not run out of voltage for long enough; it stays as it was, and the resistance is set to go with it")))
		}
		f.add("motor.resistance_ohm", p.Motor.ResistanceOhm, m.Resistance)
		f.add("motor.coulomb_torque_nm", p.Motor.CoulombTorque, m.Coulomb)
		f.add("motor.viscous_nm_per_rad_s", p.Motor.Viscous, m.Viscous)
		if m.Idle.Value > 0 {
			f.add("controller.fixed_w", p.Controller.FixedW, m.Idle)
		}
	}
	if d, err := Drag(rides, p); err != nil {
		f.Refused = append(f.Refused, err)
	} else {
		f.add("road.cda_m2", p.Road.CdA, d.CdA)
		f.add("road.crr", p.Road.Crr, d.Crr)
		f.Winds, f.LoadAt25 = d.Winds, d.LoadAt25
	}
	var err error
	if f.Coasting, err = CoastDowns(rides); err != nil {
		f.Refused = append(f.Refused, err)
	}
	return f
}

func (f *Findings) add(key string, was float64, figure doubt.Figure) {
	f.Learnt = append(f.Learnt, Finding{key, was, figure})
}

// Apply returns the profile with the numbers learnt and their tolerances. A
// number that the profile has as zero stays zero.
func (f Findings) Apply(p *bike.Profile) *bike.Profile {
	learnt := *p
	learnt.Tolerance = maps.Clone(p.Tolerance)
	if learnt.Tolerance == nil {
		learnt.Tolerance = map[string]float64{}
	}
	out := &learnt
	for _, x := range f.Learnt {
		if x.Was == 0 || !(x.Figure.Value > 0) {
			continue
		}
		out = out.Scaled(x.Key, x.Figure.Value/x.Was)
		out.SetOrigin(x.Key, bike.Learnt)
		out.Tolerance[x.Key] = (x.Figure.High - x.Figure.Low) / 2 / x.Figure.Value
	}
	return out
}
