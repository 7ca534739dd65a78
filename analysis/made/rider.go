package made

// A Rider is the habits of one made rider.
type Rider struct {
	Name       string
	PowerW     float64 // at the crank on level road
	ClimbW     float64 // more for each 1 of grade: 900 is 45 W more on 5 %
	PedalNm    float64 // greatest mean torque at the crank
	SpinRPM    float64 // cadence up to which the legs keep their torque; 0 is 104, as in most
	CruiseMPS  float64 // speed at which the rider eases off
	DescentMPS float64 // speed at which the rider brakes downhill

	LowRPM, HighRPM float64 // cadence below which the rider shifts down, above which up
	LoadRPM         float64 // both rise by this much when the motor gives 400 W
	DelayS          float64 // from leaving that band to the down-shift
	Cogs            int     // most cogs in one down-shift
	AheadM          float64 // how far ahead a ramp is seen and shifted for; 0 is never
	StartM          float64 // development in m that is chosen while rolling to a stop; 0: starts in what was in
	OneGear         bool    // shifts only when the legs nearly stand
	LoadedShifts    float64 // share of shifts made without easing off
	SoftShare       float64 // share of easy stretches spent soft-pedalling instead of coasting
	Level           int     // assist level
	SteepLevel      int     // assist level on more than 4 %
}

// Lugger starts in a tall gear, shifts down late and one cog at a time, and
// lets full assist drag the tall gear up steep ground.
func Lugger() Rider {
	return Rider{
		Name: "the rider who lugs", PowerW: 95, ClimbW: 900, PedalNm: 46, CruiseMPS: 6.6, DescentMPS: 9.5,
		LowRPM: 52, HighRPM: 66, DelayS: 5.5, Cogs: 1, LoadedShifts: 0.5, SoftShare: 0.3, Level: 3, SteepLevel: 4,
	}
}

// OneGearLugger hardly ever shifts at all.
func OneGearLugger() Rider {
	r := Lugger()
	r.Name, r.OneGear = "the rider who stays in one gear", true
	return r
}

// Shifter keeps legs and motor turning, shifts early for ramps, and is in a low
// gear before the lights.
func Shifter() Rider {
	return Rider{
		Name: "the rider who shifts well", PowerW: 95, ClimbW: 900, PedalNm: 30, CruiseMPS: 6.6, DescentMPS: 9.5,
		LowRPM: 65, HighRPM: 80, LoadRPM: 14, DelayS: 0.8, Cogs: 3, AheadM: 12, StartM: 2.7,
		SoftShare: 0.3, Level: 2, SteepLevel: 3,
	}
}

// Between mixes the habits of two riders: share 0 is a, 1 is b. It serves to
// plant a change of a known size.
func Between(a, b Rider, share float64) Rider {
	mix := func(x, y float64) float64 { return x + share*(y-x) }
	nearer := a
	if share >= 0.5 {
		nearer = b
	}
	r := nearer
	r.PowerW, r.ClimbW, r.PedalNm = mix(a.PowerW, b.PowerW), mix(a.ClimbW, b.ClimbW), mix(a.PedalNm, b.PedalNm)
	r.CruiseMPS, r.DescentMPS = mix(a.CruiseMPS, b.CruiseMPS), mix(a.DescentMPS, b.DescentMPS)
	r.LowRPM, r.HighRPM, r.LoadRPM = mix(a.LowRPM, b.LowRPM), mix(a.HighRPM, b.HighRPM), mix(a.LoadRPM, b.LoadRPM)
	r.DelayS, r.AheadM = mix(a.DelayS, b.DelayS), mix(a.AheadM, b.AheadM)
	r.LoadedShifts, r.SoftShare = mix(a.LoadedShifts, b.LoadedShifts), mix(a.SoftShare, b.SoftShare)
	return r
}

// An assist is what the made drive's firmware gives at one level.
type assist struct {
	factor  float64 // motor's torque for each unit of the rider's, at the same shaft
	mostNm  float64 // at the chainring
	mostW   float64
	wheelNm float64 // most at the wheel, for hub drives
}

// levels are those of the made firmware; they come from no real drive.
func levels(level int) assist {
	return [...]assist{
		{},
		{0.6, 40, 250, 18},
		{1.2, 65, 400, 28},
		{2.0, 82, 520, 38},
		{3.0, 98, 700, 48},
	}[min(max(level, 0), 4)]
}
