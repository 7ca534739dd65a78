package drive

import "math"

// BandPoints is how far below the best efficiency in reach the edge of the
// efficient band lies.
const BandPoints = 0.03

// A Band is the efficient band of a motor at one output power: every speed at
// which the drive gives that power within its limits and loses at most
// BandPoints of efficiency against the best such speed.
//
// It moves with power. Copper loss goes with (P/w)² and drag with w, so the
// best speed grows with power, and a band of rpm alone would call a gentle
// climb lugging that is not.
type Band struct {
	Low, Best, High float64 // rad/s
	Efficiency      float64 // at Best, battery's terminals to shaft
}

// Band at shaftW of output with the winding at its reference temperature and
// the battery at its nominal voltage. Above the strongest power the drive has,
// it is the band of that power; at or below zero it is empty, all zero.
func (u Unit) Band(shaftW float64) Band {
	return u.BandAt(shaftW, ReferenceC, u.OpenCircuitV)
}

// BandAt is Band at a winding temperature (°C) and a battery voltage at rest.
//
// At constant output the terminal power is a convex function of speed: the
// current P/(K w) + (Coulomb + Viscous w)/K is convex and positive, and so are
// its square and the limits' current and voltage. So the band is one interval,
// the best speed is the only minimum, and bisection cannot miss an edge.
func (u Unit) BandAt(shaftW, windingC, openCircuitV float64) Band {
	return u.bandWithin(shaftW, windingC, openCircuitV, 1e-10)
}

// bandWithin is BandAt with its speeds within a fraction of themselves.
func (u Unit) bandWithin(shaftW, windingC, openCircuitV, tolerance float64) Band {
	if !(shaftW > 0) {
		return Band{}
	}
	c := curve{u, shaftW, u.Resistance(windingC), openCircuitV, tolerance}
	best := c.bestSpeed()
	if c.broken(best) {
		// The best speed is out of reach. What is in reach lies on the side to
		// which the limits relax.
		within := c.leastBroken()
		if c.broken(within) {
			strongest := u.strongest(windingC, openCircuitV)
			if strongest.Shaft <= 0 || shaftW <= strongest.Shaft {
				return Band{Low: within, Best: within, High: within, Efficiency: shaftW / c.terminal(within)}
			}
			return u.bandWithin(strongest.Shaft*(1-1e-9), windingC, openCircuitV, tolerance)
		}
		best = c.edge(within, best, c.broken)
	}
	eta := shaftW / c.terminal(best)
	most := shaftW / (eta - BandPoints) // W from the battery at the edge
	outside := func(w float64) bool { return eta > BandPoints && c.terminal(w) > most || c.broken(w) }
	low, high := best/2, best*2
	for !outside(low) && low > best*1e-6 {
		low /= 2
	}
	for !outside(high) && high < best*1e6 {
		high *= 2
	}
	return Band{Low: c.edge(best, low, outside), Best: best, High: c.edge(best, high, outside), Efficiency: eta}
}

// curve is the drive at constant output as a function of speed.
type curve struct {
	u            Unit
	shaftW       float64
	ohm          float64 // of the winding
	openCircuitV float64
	tolerance    float64
}

func (c *curve) amps(w float64) float64 {
	return (c.shaftW/w + c.u.Coulomb + c.u.Viscous*w) / c.u.K
}

func (c *curve) terminal(w float64) float64 {
	amps := c.amps(w)
	return c.u.Fixed + amps*(c.u.K*w+c.u.Volt+(c.ohm+c.u.Ohm)*amps)
}

// excess is how far the worst limit is overrun, below zero within them all.
// Each part is convex in speed, and so is their maximum.
func (c *curve) excess(w float64) float64 {
	amps := c.amps(w)
	batteryAmps, batteryVolts := c.u.battery(c.terminal(w), c.openCircuitV)
	return max(amps/c.u.PhaseLimit, (c.u.K*w+amps*c.ohm)/batteryVolts, batteryAmps/c.u.BatteryLimit) - 1
}

func (c *curve) broken(w float64) bool { return c.excess(w) > limitSlack }

// slope is d terminal / d speed.
func (c *curve) slope(w float64) float64 {
	amps, ohm := c.amps(w), c.ohm+c.u.Ohm
	dAmps := (c.u.Viscous - c.shaftW/(w*w)) / c.u.K
	return dAmps*(c.u.K*w+c.u.Volt+2*ohm*amps) + amps*c.u.K
}

// bestSpeed is where the slope changes its sign.
func (c *curve) bestSpeed() float64 {
	low, high := 1.0, 1.0
	for c.slope(high) < 0 && high < maxSpeed {
		low, high = high, high*2
	}
	for c.slope(low) > 0 && low > 1e-9 {
		low, high = low/2, low
	}
	return c.edge(low, high, func(w float64) bool { return c.slope(w) >= 0 })
}

// maxSpeed in rad/s ends the search for a best speed in a motor that a profile
// gives no drag at all.
const maxSpeed = 1e5

// leastBroken is the speed at which the limits are overrun least.
func (c *curve) leastBroken() float64 {
	low, high := math.Log(1e-2), math.Log(2*c.openCircuitV/c.u.K)
	return math.Exp(goldenMin(low, high, func(x float64) float64 { return c.excess(math.Exp(x)) }))
}

// strongest is the point of the most shaft power at any speed.
func (u Unit) strongest(windingC, openCircuitV float64) Point {
	w := goldenMin(0, openCircuitV/u.K, func(w float64) float64 {
		return -u.Most(w, windingC, openCircuitV).Shaft
	})
	return u.Most(w, windingC, openCircuitV)
}

// MostShaft is the most shaft power in W at any speed within the limits.
func (u Unit) MostShaft(windingC, openCircuitV float64) float64 {
	return u.strongest(windingC, openCircuitV).Shaft
}

// edge bisects between a speed inside and one outside.
func (c *curve) edge(inside, outside float64, isOutside func(float64) bool) float64 {
	if !isOutside(outside) {
		return outside
	}
	for range 60 {
		mid := (inside + outside) / 2
		if math.Abs(outside-inside) <= c.tolerance*mid {
			break
		}
		if isOutside(mid) {
			outside = mid
		} else {
			inside = mid
		}
	}
	return inside
}

// goldenMin finds the minimum of a function with one valley in [low, high].
func goldenMin(low, high float64, f func(float64) float64) float64 {
	const ratio = 0.6180339887498949
	a, b := high-ratio*(high-low), low+ratio*(high-low)
	fa, fb := f(a), f(b)
	for range 60 {
		if fa <= fb {
			high, b, fb = b, a, fa
			a = high - ratio*(high-low)
			fa = f(a)
		} else {
			low, a, fa = a, b, fb
			b = low + ratio*(high-low)
			fb = f(b)
		}
	}
	return (low + high) / 2
}
