package road

// A Series is what road and air ask of the bike, second by second. Columns
// have one value a second, NaN where unknown; powers in W at the wheel.
type Series struct {
	Moving     []bool    // not paused and faster than 0.5 m/s
	Speed      []float64 // m/s, as logged or smoothed
	Distance   []float64 // m from the start, never falling, never NaN
	Accel      []float64 // m/s²
	Altitude   []float64 // m, smoothed
	Grade      []float64 // rise over run
	GradeSigma []float64 // standard deviation of Grade
	Density    []float64 // kg/m³

	Air      []float64
	Rolling  []float64
	Bearings []float64
	Climbing []float64
	Inertia  []float64 // into speed; negative while slowing
	Demand   []float64 // their sum; brakes not counted
}
