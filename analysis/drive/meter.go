package drive

import (
	"math"
	"slices"

	"cogledger/analysis/doubt"
	"cogledger/ingest/ride"
)

// ReadingNoise is the half-width in Wh of the 90 % range by which the battery's
// energy may be off because its meters count in steps. Readings that stay the
// same err alike, so a run of them counts as one, and all readings of the
// commonest value, that of the idle drive, count as one together; from run to
// run the errors average away. A meter's gain, which errs alike all the time,
// is a tolerance of the profile instead. Zero where the series does not rest
// on volts and amperes.
func (s *Series) ReadingNoise(r *ride.Ride) float64 {
	if s.Knowledge != FromBattery {
		return 0
	}
	const joulesPerWh = 3600
	return math.Hypot(
		runsOff(r.Column(ride.BatteryAmps), s.Volts),
		runsOff(r.Column(ride.BatteryVolts), s.Amps),
	) / joulesPerWh
}

// runsOff is the half-width of the sum of readings times weight, one a second.
func runsOff(readings, weight []float64) float64 {
	sigma := doubt.Rounding(doubt.Resolution(readings))
	square, run, idle := 0.0, 0.0, 0.0
	common, last := commonest(readings), math.NaN()
	for i, v := range readings {
		if v != last {
			square += run * run
			run, last = 0, v
		}
		w := weight[i]
		switch {
		case math.IsNaN(w):
		case v == common:
			idle += w
		default:
			run += w
		}
	}
	return doubt.HalfWidth(sigma * math.Sqrt(square+run*run+idle*idle))
}

// commonest is the value read most often, NaN where there is none.
func commonest(readings []float64) float64 {
	sorted := slices.DeleteFunc(slices.Clone(readings), math.IsNaN)
	slices.Sort(sorted)
	most, value := 0, math.NaN()
	for from := 0; from < len(sorted); {
		to := from
		for to < len(sorted) && sorted[to] == sorted[from] {
			to++
		}
		if to-from > most {
			most, value = to-from, sorted[from]
		}
		from = to
	}
	return value
}
