package fleet

import "time"

// A Column names one field of a row, for stores and exports alike. At points
// to the field: *string, *int64, *float64, *bool or *time.Time.
type Column[Row any] struct {
	Name  string
	Unit  string
	About string
	At    func(*Row) any
}

// RideColumns lists the columns of a Ride. Content and part are the key.
func RideColumns() []Column[Ride] {
	return []Column[Ride]{
		{"content", "", "hash of the log's bytes", func(r *Ride) any { return &r.Content }},
		{"part", "", "which ride of the log, from 0", func(r *Ride) any { return &r.Part }},
		{"path", "", "where the log was found", func(r *Ride) any { return &r.Path }},
		{"bike", "", "the bike; empty in private exports", func(r *Ride) any { return &r.Bike }},
		{"rider", "", "the rider; empty in private exports and where not known", func(r *Ride) any { return &r.Rider }},
		{"team", "", "depot or group of riders; empty where not known", func(r *Ride) any { return &r.Group }},
		{"profile", "", "hash of the bike profile's values", func(r *Ride) any { return &r.Profile }},
		{"version", "", "of the analysis and the rows", func(r *Ride) any { return &r.Version }},
		{"start", "", "time of the first second, UTC", func(r *Ride) any { return &r.Start }},
		{"month", "", "year and month of the start, UTC, or unknown", func(r *Ride) any { return &r.Month }},
		{"made", "", "true: made by simulation", func(r *Ride) any { return &r.Made }},
		{"basis", "", "of the motor's energy: measured, derived or modelled", func(r *Ride) any { return &r.Basis }},
		{"duration_s", "s", "pauses included", func(r *Ride) any { return &r.Seconds }},
		{"moving_s", "s", "time moving", func(r *Ride) any { return &r.MovingS }},
		{"distance_m", "m", "distance", func(r *Ride) any { return &r.DistanceM }},
		{"ascent_m", "m", "metres climbed", func(r *Ride) any { return &r.AscentM }},
		{"air_c", "°C", "mean air temperature as logged", func(r *Ride) any { return &r.AirC }},
		{"battery_wh", "Wh", "out of the battery's terminals", func(r *Ride) any { return &r.BatteryWh }},
		{"rider_wh", "Wh", "by the rider at the crank", func(r *Ride) any { return &r.RiderWh }},
		{"lugging_loss_wh", "Wh", "battery energy that the best gear would have saved while lugging", func(r *Ride) any { return &r.LossWh }},
		{"lugging_loss_low_wh", "Wh", "lower end of its 90 % range by the profile's tolerances; computed for a sample of the rides", func(r *Ride) any { return &r.LossLow }},
		{"lugging_loss_high_wh", "Wh", "upper end", func(r *Ride) any { return &r.LossHigh }},
		{"plan_saving_wh", "Wh", "what the rideable plan of gears would have saved at most, wherever it saves", func(r *Ride) any { return &r.PlanSavingWh }},
		{"copper_wh", "Wh", "heat in the motor's winding", func(r *Ride) any { return &r.CopperWh }},
		{"battery_heat_wh", "Wh", "heat in the battery's resistance", func(r *Ride) any { return &r.BatteryHeatWh }},
		{"lugging_s", "s", "motor loaded, slower than its efficient band", func(r *Ride) any { return &r.LuggingS }},
		{"in_band_s", "s", "motor loaded, in its band", func(r *Ride) any { return &r.InBandS }},
		{"spinning_out_s", "s", "motor loaded, faster than its band or out of voltage", func(r *Ride) any { return &r.SpinningS }},
		{"resting_s", "s", "legs push, the motor rests", func(r *Ride) any { return &r.RestingS }},
		{"coasting_s", "s", "rolling, neither pushes", func(r *Ride) any { return &r.CoastingS }},
		{"stopped_s", "s", "standing", func(r *Ride) any { return &r.StoppedS }},
		{"unknown_s", "s", "the log cannot tell", func(r *Ride) any { return &r.UnknownS }},
		{"lugging_wh", "Wh", "battery energy drawn while lugging", func(r *Ride) any { return &r.LuggingWh }},
		{"legs_lugging_s", "s", "legs below their band while pushing", func(r *Ride) any { return &r.LegsLuggingS }},
		{"both_lugging_s", "s", "motor and legs both", func(r *Ride) any { return &r.BothLuggingS }},
		{"pedalling_s", "s", "the crank turns and the bike rolls", func(r *Ride) any { return &r.PedallingS }},
		{"gear_named_s", "s", "of those, with the gear told", func(r *Ride) any { return &r.NamedS }},
		{"shifts", "", "shifts ridden", func(r *Ride) any { return &r.Shifts }},
		{"shifts_planned", "", "shifts of the plan", func(r *Ride) any { return &r.ShiftsPlanned }},
		{"winding_peak_c", "°C", "highest winding temperature, modelled", func(r *Ride) any { return &r.WindingPeakC }},
		{"winding_limit_c", "°C", "limit of the winding's insulation", func(r *Ride) any { return &r.WindingLimitC }},
		{"over_limit_s", "s", "time above that limit", func(r *Ride) any { return &r.OverLimitS }},
		{"resistance_ratio", "", "battery resistance learnt from how its voltage follows the current, over the profile's", func(r *Ride) any { return &r.ResistanceRatio }},
		{"resistance_se", "", "standard error of that ratio", func(r *Ride) any { return &r.ResistanceSE }},
		{"resistance_s", "s", "seconds with volts and amperes that it rests on", func(r *Ride) any { return &r.ResistanceS }},
		{"capacity_wh", "Wh", "battery capacity by the profile", func(r *Ride) any { return &r.CapacityWh }},
		{"warnings", "", "notes on the log and the analysis", func(r *Ride) any { return &r.Warnings }},
	}
}

// HabitColumns lists the columns of a Habit. Content, part and kind are the key.
func HabitColumns() []Column[Habit] {
	return []Column[Habit]{
		{"content", "", "hash of the log's bytes", func(h *Habit) any { return &h.Content }},
		{"part", "", "which ride of the log, from 0", func(h *Habit) any { return &h.Part }},
		{"kind", "", "the habit", func(h *Habit) any { return &h.Kind }},
		{"count", "", "times it happened", func(h *Habit) any { return &h.Count }},
		{"opportunities", "", "times it could have happened; 0 where that makes no sense", func(h *Habit) any { return &h.Opportunities }},
		{"cost_wh", "Wh", "battery energy that it cost", func(h *Habit) any { return &h.CostWh }},
	}
}

// SegmentColumns lists the columns of a Segment. Content, part and number are
// the key.
func SegmentColumns() []Column[Segment] {
	return []Column[Segment]{
		{"content", "", "hash of the log's bytes", func(s *Segment) any { return &s.Content }},
		{"part", "", "which ride of the log, from 0", func(s *Segment) any { return &s.Part }},
		{"number", "", "in order of time, from 0", func(s *Segment) any { return &s.Number }},
		{"from_s", "s", "first second of the ride in it", func(s *Segment) any { return &s.FromS }},
		{"to_s", "s", "the second after its last", func(s *Segment) any { return &s.ToS }},
		{"cell", "", "S2 cell of level 16, the bits of its id as a signed number; 0 without a position", func(s *Segment) any { return &s.Cell }},
		{"direction", "", "of travel: 0 north, 1 north-east, ... 7 north-west; -1 unknown", func(s *Segment) any { return &s.Direction }},
		{"lat", "°", "middle of the stretch; centre of the cell in private exports", func(s *Segment) any { return &s.Lat }},
		{"lon", "°", "middle of the stretch; centre of the cell in private exports", func(s *Segment) any { return &s.Lon }},
		{"near_end", "", "within 500 m of the ride's start or end", func(s *Segment) any { return &s.NearEnd }},
		{"loss_wh", "Wh", "battery energy that the best gear would have saved", func(s *Segment) any { return &s.LossWh }},
		{"grade", "", "mean rise over run", func(s *Segment) any { return &s.Grade }},
		{"motor_rpm", "rpm", "mean motor speed", func(s *Segment) any { return &s.MotorRPM }},
		{"gear_from", "", "gear used most", func(s *Segment) any { return &s.GearFrom }},
		{"gear_to", "", "gear of the plan", func(s *Segment) any { return &s.GearTo }},
		{"winding_c", "°C", "winding temperature at the end", func(s *Segment) any { return &s.WindingC }},
		{"legs_lugging_s", "s", "of it with the legs below their band too", func(s *Segment) any { return &s.LegsLuggingS }},
	}
}

// LogColumns lists the columns of a Log. The path is the key.
func LogColumns() []Column[Log] {
	return []Column[Log]{
		{"path", "", "where it was found", func(l *Log) any { return &l.Path }},
		{"fingerprint", "", "size and time of change, or what else tells a change", func(l *Log) any { return &l.Fingerprint }},
		{"content", "", "hash of its bytes, unpacked", func(l *Log) any { return &l.Content }},
		{"serial", "", "of the device", func(l *Log) any { return &l.Serial }},
		{"start", "", "time of the first sample, UTC", func(l *Log) any { return &l.Start }},
		{"bike", "", "the bike", func(l *Log) any { return &l.Bike }},
		{"rider", "", "the rider", func(l *Log) any { return &l.Rider }},
		{"team", "", "depot or group", func(l *Log) any { return &l.Group }},
		{"profile", "", "hash of the bike profile's values", func(l *Log) any { return &l.Profile }},
		{"version", "", "of the analysis and the rows", func(l *Log) any { return &l.Version }},
		{"problem", "", "why there are no rides of it", func(l *Log) any { return &l.Problem }},
	}
}

// Value is the column's value in a row: string, int64, float64, bool or
// time.Time.
func (c Column[Row]) Value(row *Row) any {
	switch p := c.At(row).(type) {
	case *string:
		return *p
	case *int64:
		return *p
	case *float64:
		return *p
	case *bool:
		return *p
	case *time.Time:
		return *p
	}
	panic("fleet: column " + c.Name + " points to a type that rows do not hold")
}
