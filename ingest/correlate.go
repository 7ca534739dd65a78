package ingest

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

// A peak is the best offset of one column against another.
type peak struct {
	lag                   float64 // s to add to b's seconds to have a's
	correlation, runnerUp float64
	lags, correlations    []float64 // around the peak
}

const (
	trendWindow = 30 // s on either side; slower changes are of the road, and alike on any ride
	peakWidth   = 30 // s on either side of a peak that belong to it
	leastShare  = 4  // the overlap of an offset must be at least a 4th of the shorter log
	drawnLags   = 60 // s on either side of the peak that are handed on
)

// detrended is a column less its own moving mean over a minute: stops, starts
// and hills remain, and unrelated rides have little in common.
func detrended(column []float64) []float64 {
	n := len(column)
	sum, count := make([]float64, n+1), make([]int, n+1)
	for k, v := range column {
		sum[k+1], count[k+1] = sum[k], count[k]
		if !math.IsNaN(v) {
			sum[k+1] += v
			count[k+1]++
		}
	}
	flat := make([]float64, n)
	for k, v := range column {
		low, high := max(0, k-trendWindow), min(n, k+trendWindow+1)
		flat[k] = math.NaN()
		if m := count[high] - count[low]; m > trendWindow/2 {
			flat[k] = v - (sum[high]-sum[low])/float64(m)
		}
	}
	return flat
}

// correlate gives Pearson's correlation of two columns with holes at every
// whole offset with enough overlap, by six Fourier transforms (D. Padfield,
// Masked object registration in the Fourier domain, IEEE Trans. Image Process.
// 21(5), 2012, in one dimension), and its highest peak. An offset with much
// overlap counts for more than one with the same correlation and little.
func correlate(a, b []float64) (peak, bool) {
	size := 1
	for size < len(a)+len(b) {
		size *= 2
	}
	fft := fourier.NewFFT(size)
	a1, am, a2 := spectra(fft, size, a)
	b1, bm, b2 := spectra(fft, size, b)
	buffer := make([]complex128, len(a1))
	cross := func(x, y []complex128) []float64 {
		for i := range buffer {
			buffer[i] = x[i] * cmplx.Conj(y[i]) / complex(float64(size), 0)
		}
		return fft.Sequence(nil, buffer)
	}
	n, ab := cross(am, bm), cross(a1, b1)
	sa, sb := cross(a1, bm), cross(am, b1)
	saa, sbb := cross(a2, bm), cross(am, b2)

	least := float64(max(leastOverlapS, min(len(a), len(b))/leastShare))
	first, last := -(len(b) - 1), len(a)-1
	r := make([]float64, last-first+1)
	score := make([]float64, len(r))
	best := -1
	for lag := first; lag <= last; lag++ {
		at := lag
		if at < 0 {
			at += size
		}
		i := lag - first
		r[i], score[i] = math.NaN(), math.Inf(-1)
		m := math.Round(n[at])
		if m < least {
			continue
		}
		va, vb := saa[at]-sa[at]*sa[at]/m, sbb[at]-sb[at]*sb[at]/m
		if va < 1e-6*m || vb < 1e-6*m { // one of them stands still
			continue
		}
		r[i] = (ab[at] - sa[at]*sb[at]/m) / math.Sqrt(va*vb)
		score[i] = r[i] * math.Sqrt(m)
		if best < 0 || score[i] > score[best] {
			best = i
		}
	}
	if best < 0 {
		return peak{}, false
	}
	p := peak{lag: float64(best + first), correlation: r[best], runnerUp: -1}
	for i := range r {
		if i < best-peakWidth || i > best+peakWidth {
			if r[i] > p.runnerUp {
				p.runnerUp = r[i]
			}
		}
	}
	for i := max(0, best-drawnLags); i <= min(len(r)-1, best+drawnLags); i++ {
		p.lags, p.correlations = append(p.lags, float64(i+first)), append(p.correlations, r[i])
	}
	return p, true
}

// spectra are the transforms of a column with holes as 0, of its mask, and of
// its squares.
func spectra(fft *fourier.FFT, size int, column []float64) (values, mask, squares []complex128) {
	v, m, s := make([]float64, size), make([]float64, size), make([]float64, size)
	for k, x := range column {
		if !math.IsNaN(x) {
			v[k], m[k], s[k] = x, 1, x*x
		}
	}
	return fft.Coefficients(nil, v), fft.Coefficients(nil, m), fft.Coefficients(nil, s)
}

// pairs add up Pearson's correlation of values given one by one.
type pairs struct{ n, a, b, aa, bb, ab float64 }

func (p *pairs) add(a, b float64) {
	p.n++
	p.a += a
	p.b += b
	p.aa += a * a
	p.bb += b * b
	p.ab += a * b
}

// correlation is NaN where one of the two never changes.
func (p *pairs) correlation() float64 {
	va, vb := p.aa-p.a*p.a/p.n, p.bb-p.b*p.b/p.n
	if p.n < 2 || !(va > 0) || !(vb > 0) {
		return math.NaN()
	}
	return (p.ab - p.a*p.b/p.n) / math.Sqrt(va*vb)
}
