package road

import "math"

// slope fills out with the derivative of x with respect to time, by a straight
// line of least squares through the values up to half seconds away: on an even
// clock the same as a local quadratic (Savitzky & Golay 1964). The window
// never reaches across a NaN. A value without a neighbour gets NaN.
func slope(x []float64, half int, out []float64) {
	for i := range x {
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
	for i := range altitude {
		if math.IsNaN(altitude[i]) {
			p.height[i], p.grade[i], p.gradeSigma[i] = math.NaN(), math.NaN(), math.NaN()
			last, lastResidual = math.NaN(), math.NaN()
			continue
		}
		h, g, leverage := lineAt(distance, altitude, i)
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

// lineAt fits altitude over distance around second i. leverage is the grade's
// standard deviation for altitudes of unit noise, infinite where the bike
// hardly moved.
func lineAt(distance, altitude []float64, i int) (height, grade, leverage float64) {
	n, sx, sy, sxx, sxy := 1.0, 0.0, 0.0, 0.0, 0.0 // of second i itself
	here, height0 := distance[i], altitude[i]
	for _, step := range [2]int{-1, 1} {
		last := i + gradeMost*step
		for k := i + step; k != last+step && k >= 0 && k < len(altitude); k += step {
			x, y := distance[k]-here, altitude[k]-height0
			if math.IsNaN(y) || math.Abs(x) > gradeReach && (k-i)*step > gradeSeconds {
				break
			}
			n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
		}
	}
	xx := sxx - sx*sx/n
	if xx < 25 { // m²: less than a bike's length or two
		return height0 + sy/n, math.NaN(), math.Inf(1)
	}
	grade = (sxy - sx*sy/n) / xx
	return height0 + (sy-grade*sx)/n, grade, 1 / math.Sqrt(xx)
}
