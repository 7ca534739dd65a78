package report

// A DocumentRule is the band of one motor power as the rider feels it: cadences
// with a mid drive, speeds with a hub motor.
type DocumentRule struct {
	MotorW         Number `json:"motor_w" jsonschema:"description=out of the motor's shaft"`
	Efficiency     Number `json:"efficiency" jsonschema:"description=at the best speed"`
	MotorLowRPM    Number `json:"motor_low_rpm" jsonschema:"description=below it the motor lugs"`
	MotorBestRPM   Number `json:"motor_best_rpm"`
	MotorHighRPM   Number `json:"motor_high_rpm" jsonschema:"description=above it the motor spins out"`
	CadenceLowRPM  Number `json:"cadence_low_rpm" jsonschema:"description=null for a hub motor"`
	CadenceBestRPM Number `json:"cadence_best_rpm"`
	CadenceHighRPM Number `json:"cadence_high_rpm"`
	SpeedLowMPS    Number `json:"speed_low_mps" jsonschema:"description=null for a mid drive"`
	SpeedBestMPS   Number `json:"speed_best_mps"`
	SpeedHighMPS   Number `json:"speed_high_mps"`
}

// A DocumentFitting is a chainring or cassette on sale, and what the loaded
// seconds of the ride would have taken with it.
type DocumentFitting struct {
	Name         string `json:"name"`
	Chainrings   []int  `json:"chainrings"`
	Cogs         []int  `json:"cogs"`
	Fitted       bool   `json:"fitted" jsonschema:"description=the bike as it is"`
	BatteryWh    Number `json:"battery_wh" jsonschema:"description=in the loaded seconds\\, each in its best gear\\, shifts free"`
	SavingWh     Number `json:"saving_wh" jsonschema:"description=against the bike as it is\\, shifted as freely"`
	HeldShare    Number `json:"held_share" jsonschema:"description=share of the loaded seconds in which the ride's speed is held"`
	LegsOutShare Number `json:"legs_out_share"`
	Worth        bool   `json:"worth" jsonschema:"description=saves at least one per cent and more than the plan's shifts are priced at"`
}

// A DocumentStart is the start test in one gear beside the ride's own starts.
type DocumentStart struct {
	DocumentGear
	AccelMPS2   Number `json:"accel_mps2" jsonschema:"description=in the first half second"`
	PullN       Number `json:"pull_n"`
	To15S       Number `json:"to_15_kmh_s" jsonschema:"description=null where 15 km/h is not reached"`
	To15M       Number `json:"to_15_kmh_m"`
	BatteryJ    Number `json:"battery_j"`
	WindingJ    Number `json:"winding_j"`
	Limit       string `json:"limit" jsonschema:"description=what held the motor longest"`
	Starts      int    `json:"starts" jsonschema:"description=found in the ride"`
	RiddenTo15S Number `json:"ridden_to_15_kmh_s" jsonschema:"description=median of those that got there"`
}

func (v *view) documentRule() []DocumentRule {
	all := []DocumentRule{}
	for _, r := range v.Rule {
		all = append(all, DocumentRule{Number(r.ShaftW), Number(r.Efficiency), Number(r.MotorLow), Number(r.MotorBest), Number(r.MotorHigh),
			Number(r.LowRPM), Number(r.BestRPM), Number(r.HighRPM), Number(r.LowSpeed), Number(r.BestSpeed), Number(r.HighSpeed)})
	}
	return all
}

func (v *view) documentFittings() []DocumentFitting {
	all := []DocumentFitting{}
	if len(v.Fittings) == 0 {
		return all
	}
	worth := map[string]bool{}
	for _, f := range v.WorthFittings() {
		worth[f.Name] = true
	}
	for _, f := range v.Fittings {
		all = append(all, DocumentFitting{f.Name, listed(f.Chainrings), listed(f.Cogs), f.Fitted, Number(f.BatteryWh), Number(f.SavingWh),
			Number(f.HeldShare), Number(f.LegsOut), worth[f.Name]})
	}
	return all
}

func (v *view) documentStarts() []DocumentStart {
	all := []DocumentStart{}
	for _, s := range v.Starts {
		metres := Number(s.Metres)
		if !finite(s.To15) {
			metres = Number(nan())
		}
		all = append(all, DocumentStart{documentGear(s.Gear), Number(s.Accel), Number(s.PullN), Number(s.To15), metres,
			Number(s.Joules), Number(s.CopperJ), s.Limit.String(), s.Starts, Number(s.RiddenTo15)})
	}
	return all
}
