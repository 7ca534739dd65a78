package road

import "math"

// slope fills out with the derivative of x with respect to time, by a straight
// line of least squares through the values up to half seconds away: on an even
// clock the same as a local quadratic (Savitzky & Golay 1964). The window
// never reaches across a NaN. A value without a neighbour gets NaN.
func slope(x []float64, half int, out []float64) {
	whole := 0.0 // of the middles of a whole window, squared
	for j := 1; j <= half; j++ {
		whole += 2 * float64(j*j)
	}
	for i := range x {
		if i >= half && i+half < len(x) {
			sum := 0.0
			for j := 1; j <= half; j++ {
				sum += float64(j) * (x[i+j] - x[i-j])
			}
			if out[i] = sum / whole; out[i]-x[i] == out[i]-x[i] { // all known
				continue
			}
		}
		if math.IsNaN(x[i]) {
			out[i] = math.NaN()
			continue
		}
		from, to := reach(x, i, half)
		n := float64(to - from + 1)
		if n < 2 {
			out[i] = math.NaN()
			continue
		}
		mid := float64(from+to) / 2
		var sum float64
		for k := from; k <= to; k++ {
			sum += (float64(k) - mid) * x[k]
		}
		out[i] = sum / (n * (n*n - 1) / 12)
	}
}

// reach is the widest run of known values around i, at most half to each side.
func reach(x []float64, i, half int) (from, to int) {
	from, to = i, i
	for from > 0 && i-from < half && !math.IsNaN(x[from-1]) {
		from--
	}
	for to < len(x)-1 && to-i < half && !math.IsNaN(x[to+1]) {
		to++
	}
	return from, to
}

// A relief is the road's height along its length.
type relief struct {
	height, grade []float64
	sigma         float64 // m, of one altitude against its neighbours' line
	gradeSigma    []float64
}

// How far the line reaches that gives a second's grade: gradeReach metres to
// each side, but not less than gradeSeconds and not more than gradeMost.
// Shorter windows read the altimeter's steps as hills, longer ones flatten
// short ramps.
const (
	gradeReach   = 40.0
	gradeSeconds = 4
	gradeMost    = 45
)

// fit takes a line of least squares through the altitudes around each
// second. The scatter about these lines tells the altimeter's noise, and that
// the grade's doubt; neighbouring errors hang together, so the doubt grows by
// sqrt((1+r)/(1-r)) with r the correlation from one second to the next.
func (p *relief) fit(distance, altitude []float64) {
	var square, lagged float64
	var count int
	last, lastResidual := math.NaN(), math.NaN()
	around := window{distance: distance, altitude: altitude}
	for i := range altitude {
		if math.IsNaN(altitude[i]) {
			p.height[i], p.grade[i], p.gradeSigma[i] = math.NaN(), math.NaN(), math.NaN()
			last, lastResidual = math.NaN(), math.NaN()
			continue
		}
		around.move(i)
		h, g, leverage := around.line(i)
		if math.IsNaN(g) { // standing: the grade under the wheels is still the last one
			g = last
		}
		last = g
		p.height[i], p.grade[i], p.gradeSigma[i] = h, g, leverage
		residual := altitude[i] - h
		if leverage > 0 && !math.IsInf(leverage, 1) {
			square += residual * residual
			count++
			if !math.IsNaN(lastResidual) {
				lagged += residual * lastResidual
			}
		}
		lastResidual = residual
	}
	// A line through a dozen points takes some of the scatter with it.
	p.sigma = math.Sqrt(square/float64(max(1, count))) * 1.1
	r := 0.0
	if square > 0 {
		r = max(0, min(0.9, lagged/square))
	}
	spread := p.sigma * math.Sqrt((1+r)/(1-r))
	for i, leverage := range p.gradeSigma {
		if math.IsInf(leverage, 1) {
			p.gradeSigma[i] = 1 // nothing known, whatever the noise
			continue
		}
		p.gradeSigma[i] = min(1, leverage*spread)
	}
}

// A window is the seconds [lo, hi) about one, all with a known altitude, and their
// sums over x, the distance, and y, the altitude. Both count from one second near
// by, so that no digits are lost.
type window struct {
	distance, altitude []float64

	lo, hi, origin      int
	n, sx, sy, sxx, sxy float64
}

// move shifts the window on to second i, whose altitude is known. Distance never
// falls, so neither end goes back.
func (w *window) move(i int) {
	const far = 500 // m
	if w.hi <= i || math.Abs(w.distance[i]-w.distance[w.origin]) > far {
		*w = window{distance: w.distance, altitude: w.altitude, lo: i, hi: i + 1, origin: i, n: 1}
		for k := i - 1; k >= 0 && w.holds(i, k); k-- {
			w.lo = k
			w.add(k, 1)
		}
	}
	for ; !w.holds(i, w.lo); w.lo++ {
		w.add(w.lo, -1)
	}
	for ; w.hi < len(w.altitude) && w.holds(i, w.hi); w.hi++ {
		w.add(w.hi, 1)
	}
}

// holds tells whether second k belongs to the window of second i.
func (w *window) holds(i, k int) bool {
	seconds := k - i
	if seconds < 0 {
		seconds = -seconds
	}
	near := seconds <= gradeSeconds || seconds <= gradeMost && math.Abs(w.distance[k]-w.distance[i]) <= gradeReach
	return near && w.altitude[k] == w.altitude[k] // known
}

// add counts second k so many times more.
func (w *window) add(k int, times float64) {
	x, y := w.distance[k]-w.distance[w.origin], w.altitude[k]-w.altitude[w.origin]
	w.n += times
	w.sx += times * x
	w.sy += times * y
	w.sxx += times * x * x
	w.sxy += times * x * y
}

// line fits altitude over distance and gives height and grade at second i.
// leverage is the grade's standard deviation for altitudes of unit noise,
// infinite where the bike hardly moved.
func (w *window) line(i int) (height, grade, leverage float64) {
	xx := w.sxx - w.sx*w.sx/w.n
	base := w.altitude[w.origin]
	if xx < 25 { // m²: less than a bike's length or two
		return base + w.sy/w.n, math.NaN(), math.Inf(1)
	}
	grade = (w.sxy - w.sx*w.sy/w.n) / xx
	x := w.distance[i] - w.distance[w.origin]
	return base + (w.sy+grade*(w.n*x-w.sx))/w.n, grade, 1 / math.Sqrt(xx)
}
