package gears

import (
	"math"

	"cogledger/analysis/bike"
)

// calibrate fits circumference, spread, correlation and lag to the ride and
// returns the view at the lag found.
func (m *model) calibrate(e *evidence, f *Inference) view {
	lag, most := 0.0, math.Inf(-1)
	v := e.at(0)
	m.refine(&v, 2)
	for l := 0.0; l <= 5; l++ {
		try := e.at(l)
		if like := m.chain.LogLikelihood(len(try.kind), m.sight(&try)); like > most {
			lag, most, v = l, like, try
		}
	}
	m.refine(&v, 3)
	f.LagSeconds = int(lag)
	f.Circumference = math.Exp(m.logC)
	return v
}

// refine runs expectation and maximisation over a view.
func (m *model) refine(v *view, rounds int) {
	start := m.logC
	for range rounds {
		var w, wx, wxx, lagged, pairs float64
		m.chain.Smooth(len(v.kind), m.sight(v), func(t int, drive, slip []float64) {
			if v.kind[t] != turning {
				return
			}
			tol := m.spread2 + float64(v.logTol[t])
			x0 := float64(v.logDev[t]) - m.logC
			for g, p := range drive {
				if p < 0.3 {
					continue
				}
				x := x0 - m.logRatio[g]
				k := p * 6 / (5 + x*x/tol) // Student weight
				if x*x > 16*tol {
					continue
				}
				w += k
				wx += k * x
				wxx += k * x * x * m.spread2 / tol
				if t > 0 && v.kind[t-1] == turning {
					was := float64(v.logDev[t-1]) - m.logC - m.logRatio[g]
					if was*was < 16*tol {
						lagged += k * x * was
						pairs += k * x * x
					}
				}
			}
		})
		if w < 60 {
			return
		}
		m.logC += wx / w
		m.logC = min(max(m.logC, start-bike.TyreSpread), start+bike.TyreSpread)
		m.spread2 = max(wxx/w, 0.004*0.004)
		if pairs > 0 {
			m.keep = min(max(lagged/pairs, 0), 0.95)
		}
	}
}
