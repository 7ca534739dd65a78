package learn

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"cogledger/analysis/bike"
	"cogledger/analysis/doubt"
	"cogledger/ingest/ride"
)

// ErrCannotTell is wrapped by every refusal: the logs do not tell.
var ErrCannotTell = errors.New("the logs cannot tell")

func refuse(format string, args ...any) error {
	return fmt.Errorf("%w: %s", ErrCannotTell, fmt.Sprintf(format, args...))
}

// A BatteryFit is what volts and amperes tell of a battery.
type BatteryFit struct {
	Resistance  doubt.Figure // ohm, direct current, quick and slow part together
	OpenCircuit doubt.Figure // V at rest, at the mean charge of the last ride that told
	Rides       int          // that told
}

const (
	leastBatterySeconds = 240
	leastSwing          = 1.0 // A, standard deviation of current
	widest              = 0.3 // half width of an interval from which a fit is no news
)

// Battery learns a battery's resistance from how its voltage follows the
// current:
//
//	V = Voc + a Q + b Q² - R1 I - R2 low-pass(I),  R = R1 + R2
//
// with Q the charge drawn so far. The low-pass stands for the part of the drop
// that needs some ten seconds to build up; a plain step would miss it. Its
// time constant is the one that fits best. Intervals come from leaving out one
// stretch of the ride after the other, and from the meters' own tolerances.
func Battery(rides []*ride.Ride, p *bike.Profile) (BatteryFit, error) {
	var fits []batteryRide
	var why error
	for _, r := range rides {
		f, err := fitBattery(r, p)
		if err != nil {
			why = err
			continue
		}
		fits = append(fits, f)
	}
	if len(fits) == 0 {
		if why == nil {
			why = refuse("there is no ride")
		}
		return BatteryFit{}, fmt.Errorf("battery resistance: %w", why)
	}
	var sum, weights float64
	for _, f := range fits {
		w := 1 / max(f.sigma*f.sigma, sharpestOhm*sharpestOhm)
		sum, weights = sum+w*f.ohm, weights+w
	}
	ohm := sum / weights
	// Charge and cold move the resistance from ride to ride, more than one
	// ride's own scatter tells.
	between := 0.0
	for _, f := range fits {
		between += (f.ohm - ohm) * (f.ohm - ohm)
	}
	variance := 1 / weights
	if n := float64(len(fits)); n > 1 {
		variance = max(variance, between/(n-1)/n)
	}
	meters := math.Hypot(tolerance(p, "sensors.battery_volts_factor"), tolerance(p, "sensors.battery_amps_factor"))
	half := math.Hypot(z90*math.Sqrt(variance), meters*ohm)
	last := fits[len(fits)-1]
	if !(ohm > 0) || half > widest*ohm {
		return BatteryFit{}, fmt.Errorf("battery resistance: %w", refuse("it would be known to ± %.0f %% only", 100*half/math.Abs(ohm)))
	}
	return BatteryFit{
		Resistance:  around(ohm, half),
		OpenCircuit: around(last.openCircuit, math.Hypot(z90*last.openSigma, tolerance(p, "sensors.battery_volts_factor")*last.openCircuit)),
		Rides:       len(fits),
	}, nil
}

// sharpestOhm is better than any ride tells a resistance, in ohm: a log without
// any scatter must not outweigh all others.
const sharpestOhm = 1e-6

type batteryRide struct {
	ohm, sigma             float64
	openCircuit, openSigma float64
}

const (
	batteryTerms  = 5
	batteryBlocks = 12
)

func fitBattery(r *ride.Ride, p *bike.Profile) (batteryRide, error) {
	volts, amps := r.Column(ride.BatteryVolts), r.Column(ride.BatteryAmps)
	if volts == nil || amps == nil {
		return batteryRide{}, refuse("no volts and amperes are logged")
	}
	var known, mean, square float64
	for i := range volts {
		if a := amps[i]; !math.IsNaN(volts[i] + a) {
			known, mean, square = known+1, mean+a, square+a*a
		}
	}
	mean /= known
	if swing := math.Sqrt(max(0, square/known-mean*mean)); known < leastBatterySeconds || !(swing >= leastSwing) {
		return batteryRide{}, refuse("%.0f s of volts and amperes with a swing of %.1f A are too little", known, swing)
	}
	best, least := batteryRide{}, math.Inf(1)
	for _, settle := range []float64{8, 12, 18, 25, 35, 50, 70} {
		n := batteryEquations(volts, amps, p.Sensors, settle)
		if f, misfit, ok := n.fit(); ok && misfit < least {
			best, least = f, misfit
		}
	}
	if math.IsInf(least, 1) || !(best.sigma > 0) {
		return batteryRide{}, refuse("volts do not follow the amperes")
	}
	return best, nil
}

// normals are normal equations, one set a stretch of the ride, so that each
// stretch can be left out in turn.
type normals struct {
	xx     [batteryBlocks][batteryTerms][batteryTerms]float64
	xy     [batteryBlocks][batteryTerms]float64
	yy     [batteryBlocks]float64
	count  [batteryBlocks]float64
	charge float64 // mean Q
}

func batteryEquations(volts, amps []float64, sensors bike.Sensors, settle float64) *normals {
	n := new(normals)
	keep := math.Exp(-1 / settle)
	slow, drawn, total, chargeSum := 0.0, 0.0, 0.0, 0.0
	const hour = 3600
	for i := range volts {
		v, a := volts[i]*sensors.BatteryVolts, amps[i]*sensors.BatteryAmps
		if math.IsNaN(a) {
			slow *= keep
			continue
		}
		// The slow part answers to the current within the second as well.
		now := a + (slow-a)*(settle*(1-keep))
		slow = a + (slow-a)*keep
		drawn += a / hour
		if math.IsNaN(v) {
			continue
		}
		x := [batteryTerms]float64{1, drawn, drawn * drawn, -a, -now}
		b := i * batteryBlocks / len(volts)
		for s := range x {
			for t := range x {
				n.xx[b][s][t] += x[s] * x[t]
			}
			n.xy[b][s] += x[s] * v
		}
		n.yy[b] += v * v
		n.count[b]++
		total++
		chargeSum += drawn
	}
	n.charge = chargeSum / total
	return n
}

func (n *normals) fit() (f batteryRide, misfit float64, ok bool) {
	all, ok := n.solve(-1)
	if !ok {
		return f, 0, false
	}
	misfit = n.misfit(all)
	ohm := func(c [batteryTerms]float64) float64 { return c[3] + c[4] }
	rest := func(c [batteryTerms]float64) float64 { return c[0] + c[1]*n.charge + c[2]*n.charge*n.charge }
	var ohms, rests []float64
	for b := range batteryBlocks {
		if n.count[b] == 0 {
			continue
		}
		c, solved := n.solve(b)
		if !solved {
			return f, 0, false
		}
		ohms, rests = append(ohms, ohm(c)), append(rests, rest(c))
	}
	return batteryRide{ohm(all), jackknife(ohms), rest(all), jackknife(rests)}, misfit, true
}

// solve is the solution without stretch out; -1 leaves none out.
func (n *normals) solve(out int) (c [batteryTerms]float64, ok bool) {
	a := mat.NewSymDense(batteryTerms, nil)
	y := mat.NewVecDense(batteryTerms, nil)
	for b := range batteryBlocks {
		if b == out {
			continue
		}
		for s := range batteryTerms {
			for t := s; t < batteryTerms; t++ {
				a.SetSym(s, t, a.At(s, t)+n.xx[b][s][t])
			}
			y.SetVec(s, y.AtVec(s)+n.xy[b][s])
		}
	}
	var chol mat.Cholesky
	var x mat.VecDense
	if !chol.Factorize(a) || chol.SolveVecTo(&x, y) != nil {
		return c, false
	}
	copy(c[:], x.RawVector().Data)
	return c, true
}

// misfit is the sum of squared residuals.
func (n *normals) misfit(c [batteryTerms]float64) (sum float64) {
	for b := range batteryBlocks {
		sum += n.yy[b]
		for s := range c {
			sum -= 2 * c[s] * n.xy[b][s]
			for t := range c {
				sum += c[s] * c[t] * n.xx[b][s][t]
			}
		}
	}
	return sum
}

// jackknife is the standard deviation of an estimate from its values with one
// part left out each.
func jackknife(without []float64) float64 {
	n := float64(len(without))
	mean, sum := 0.0, 0.0
	for _, v := range without {
		mean += v / n
	}
	for _, v := range without {
		sum += (v - mean) * (v - mean)
	}
	return math.Sqrt(sum * (n - 1) / n)
}

const z90 = doubt.Z90

func around(value, half float64) doubt.Figure {
	return doubt.Figure{Value: value, Low: value - half, High: value + half, Basis: doubt.Derived}
}

func tolerance(p *bike.Profile, key string) float64 {
	for _, t := range p.Tolerances() {
		if t.Key == key {
			return t.Fraction
		}
	}
	return 0
}

func median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	x = slices.Clone(x)
	slices.Sort(x)
	return (x[len(x)/2] + x[(len(x)-1)/2]) / 2
}
