package ingest

import (
	"math"
	"slices"
)

// An alignment is the offset and drift that lay column b on column a: a second
// s of b is second s + offset + drift·s of a.
type alignment struct {
	offset, drift float64
	worst         float64 // s, standard error of the offset at the worse end of the overlap

	a, b   curve
	points []point // where both columns are known
}

// A point compares the two columns at one second.
type point struct {
	k           int     // second of a
	second      float64 // of b
	valueB      float64
	slopeB      float64
	residual    float64 // a less the straight line through b
	pull        float64 // the mean of both slopes: how much the residual changes with the offset
	sensitivity float64 // the product of both slopes
}

const (
	smoothing   = 1.5   // s, of the Gaussian that both columns are smoothed with
	smoothReach = 5     // s, where that Gaussian ends
	block       = 60    // s that are taken for one independent observation
	settled     = 2e-3  // s: a smaller step ends the search
	clockDrift  = 60e-6 // what two quartz clocks differ by (common practice: 20 to 50 ppm each)
)

// refine finds offset and drift to a fraction of a second: the least squares of
// a - (p + q·b), both smoothed alike, with Huber's weights against spikes.
//
// It is Newton's method with the mean of both columns' slopes as pull and the
// product of them as sensitivity. Noise of the one column is independent of
// that of the other, so it drops out of the product; the square of one slope
// would count it as signal and claim too much. The drift is drawn towards 0 by
// what is known of clocks, the more the less the logs tell of it.
func (m *alignment) refine(a, b []float64) {
	m.a, m.b = smoothed(a), smoothed(b)
	start := m.offset
	if m.iterate(true) && math.Abs(m.offset-start) < 10 {
		return
	}
	m.offset, m.drift = start, 0
	if !m.iterate(false) || math.Abs(m.offset-start) > 10 {
		m.offset, m.worst = start, math.Inf(1)
	}
}

// iterate reports whether the search settled.
func (m *alignment) iterate(drifting bool) bool {
	for range 20 {
		if !m.compare() {
			return false
		}
		s := normal(m.points)
		do, dd := s.solve(drifting)
		// The offset is held at the centre of the overlap while the drift
		// turns about it.
		m.drift += dd
		m.offset += do - dd*s.centre
		half := (m.points[len(m.points)-1].second - m.points[0].second) / 2
		if math.Abs(do) > settled || math.Abs(dd)*half > settled {
			continue
		}
		varO, varD := s.errors(m.points, drifting)
		known := clockDrift * clockDrift / (clockDrift*clockDrift + varD)
		m.offset += m.drift * (1 - known) * s.centre
		m.drift *= known
		m.worst = math.Sqrt(varO + varD*known*half*half)
		return true
	}
	return false
}

// compare fills the points for the present offset and drift.
func (m *alignment) compare() bool {
	m.points = m.points[:0]
	var p pairs
	for k, v := range m.a.value {
		s := (float64(k) - m.offset) / (1 + m.drift)
		value, slope := m.b.at(s)
		if math.IsNaN(v) || math.IsNaN(value) {
			continue
		}
		p.add(v, value)
		m.points = append(m.points, point{k: k, second: s, valueB: value, slopeB: slope})
	}
	vb := p.bb - p.b*p.b/p.n
	if len(m.points) < leastOverlapS || !(vb > 0) {
		return false
	}
	q := (p.ab - p.a*p.b/p.n) / vb
	line := (p.a - q*p.b) / p.n
	for i := range m.points {
		at := &m.points[i]
		slopeA, slopeB := m.a.slope[at.k], q*at.slopeB
		at.residual = m.a.value[at.k] - line - q*at.valueB
		at.sensitivity = slopeA * slopeB
		at.pull = (slopeA + slopeB) / 2
	}
	return true
}

// A system is the normal equations of offset and drift.
type system struct{ oo, od, dd, o, d, limit, centre float64 }

func normal(points []point) (s system) {
	sizes := make([]float64, len(points))
	for i, p := range points {
		sizes[i] = math.Abs(p.residual)
		s.centre += p.second
	}
	s.centre /= float64(len(points))
	slices.Sort(sizes)
	s.limit = 1.345*1.4826*sizes[len(sizes)/2] + 1e-9 // Huber's limit on the scale of the median deviation
	for _, p := range points {
		w, j := s.weight(p.residual), p.second-s.centre
		s.oo += w * p.sensitivity
		s.od += w * p.sensitivity * j
		s.dd += w * p.sensitivity * j * j
		s.o += w * p.pull * p.residual
		s.d += w * p.pull * p.residual * j
	}
	return s
}

func (s *system) weight(e float64) float64 {
	if e = math.Abs(e); e > s.limit {
		return s.limit / e
	}
	return 1
}

// solve gives the step of offset and drift. A step is never long, so that
// noise cannot throw the search out.
func (s *system) solve(drifting bool) (do, dd float64) {
	if !drifting {
		return clamp(-s.o/s.oo, 3), 0
	}
	det := s.oo*s.dd - s.od*s.od
	return clamp(-(s.dd*s.o-s.od*s.d)/det, 3), clamp(-(s.oo*s.d-s.od*s.o)/det, 1e-3)
}

func clamp(v, most float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return max(-most, min(most, v))
}

// errors are the variances of offset, at the centre, and drift. Neighbouring
// residuals hang together, so that they are added up a minute at a time (the
// sandwich form with blocks).
func (s *system) errors(points []point, drifting bool) (varO, varD float64) {
	var voo, vod, vdd, o, d float64
	flush := func() {
		voo, vod, vdd = voo+o*o, vod+o*d, vdd+d*d
		o, d = 0, 0
	}
	until := points[0].second + block
	for _, p := range points {
		if p.second >= until {
			flush()
			until = p.second + block
		}
		pulled := s.weight(p.residual) * p.pull * p.residual
		o += pulled
		d += pulled * (p.second - s.centre)
	}
	flush()
	if !drifting {
		return voo / (s.oo * s.oo), 0
	}
	det := s.oo*s.dd - s.od*s.od
	ioo, iod, idd := s.dd/det, -s.od/det, s.oo/det
	varO = ioo*ioo*voo + 2*ioo*iod*vod + iod*iod*vdd
	varD = iod*iod*voo + 2*iod*idd*vod + idd*idd*vdd
	return varO, varD
}

// A curve is a column smoothed by a Gaussian: its value and slope at whole
// seconds, NaN where the second is missing or close to an end.
type curve struct{ value, slope []float64 }

func smoothed(column []float64) curve {
	var weights, changes [2*smoothReach + 1]float64
	for j := range weights {
		d := float64(smoothReach-j) / smoothing
		weights[j] = math.Exp(-d * d / 2)
		changes[j] = -d / smoothing * weights[j]
	}
	c := curve{make([]float64, len(column)), make([]float64, len(column))}
	for k, v := range column {
		c.value[k], c.slope[k] = math.NaN(), math.NaN()
		if math.IsNaN(v) || k < smoothReach || k+smoothReach >= len(column) {
			continue
		}
		var w, wx, dw, dwx float64
		for j, v := range column[k-smoothReach : k+smoothReach+1] {
			if v == v {
				w, wx = w+weights[j], wx+weights[j]*v
				dw, dwx = dw+changes[j], dwx+changes[j]*v
			}
		}
		c.value[k] = wx / w
		c.slope[k] = (dwx - c.value[k]*dw) / w
	}
	return c
}

// at is the curve's value and slope at a fraction of a second, by the cubic
// through values and slopes of the seconds around it.
func (c *curve) at(second float64) (value, slope float64) {
	k := int(math.Floor(second))
	if k < 0 || k+1 >= len(c.value) {
		return math.NaN(), math.NaN()
	}
	x := second - float64(k)
	y0, y1, s0, s1 := c.value[k], c.value[k+1], c.slope[k], c.slope[k+1]
	rise := y1 - y0
	// y0 + s0 x + (3 rise - 2 s0 - s1) x² + (s0 + s1 - 2 rise) x³
	a2, a3 := 3*rise-2*s0-s1, s0+s1-2*rise
	return y0 + x*(s0+x*(a2+x*a3)), s0 + x*(2*a2+3*x*a3)
}
