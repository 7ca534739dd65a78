package learn

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// A fit is a least-squares problem with what is known beforehand of its
// parameters. Each parameter starts at its mean and is held to it as strongly
// as its sigma tells; an infinite sigma leaves it free.
type fit struct {
	mean, sigma []float64
	step        []float64 // for differences, about a hundredth of what matters
	residuals   func(theta, out []float64)
	count       int
	// follows tells whether residual k comes right after residual k-1 in time,
	// for the correlation of neighbours.
	follows func(k int) bool
	// doubled halves the weight of the data in the covariance, where the model
	// is known to be simpler than what it describes.
	doubled bool
}

// A solution of a fit. Covariance already allows for neighbouring residuals
// that hang together.
type solution struct {
	theta  []float64
	cov    *mat.SymDense
	spread float64 // robust standard deviation of a residual
}

// sigma is the standard deviation of one parameter.
func (s *solution) sigma(k int) float64 { return math.Sqrt(s.cov.At(k, k)) }

const (
	rounds  = 12
	farAway = 3.0 // spreads from which a residual counts less and less
)

// solve iterates Gauss and Newton's step with weights that fall with a
// residual's size (Huber's), because a log holds seconds that no model covers.
// ok is false where the normal equations cannot be solved.
func (f *fit) solve() (s solution, ok bool) {
	n, m := f.count, len(f.mean)
	theta := append([]float64(nil), f.mean...)
	r, up, down := make([]float64, n), make([]float64, n), make([]float64, n)
	j := make([][]float64, m)
	for k := range j {
		j[k] = make([]float64, n)
	}
	weight := make([]float64, n)
	var normal *mat.SymDense
	var chol mat.Cholesky
	spread := 0.0
	for range rounds {
		f.residuals(theta, r)
		spread = robustSpread(r)
		if !(spread > 0) || math.IsInf(spread, 0) {
			return s, false
		}
		for i, v := range r {
			weight[i] = 1 / max(1, math.Abs(v)/(farAway*spread))
		}
		for k := range theta {
			at := theta[k]
			theta[k] = at + f.step[k]
			f.residuals(theta, up)
			theta[k] = at - f.step[k]
			f.residuals(theta, down)
			theta[k] = at
			for i := range up {
				j[k][i] = (up[i] - down[i]) / (2 * f.step[k])
			}
		}
		normal = mat.NewSymDense(m, nil)
		right := mat.NewVecDense(m, nil)
		for a := range m {
			sum := 0.0
			for i, w := range weight {
				sum -= j[a][i] * w * r[i]
			}
			right.SetVec(a, sum/(spread*spread)+(f.mean[a]-theta[a])*f.precision(a))
			for b := a; b < m; b++ {
				sum := 0.0
				for i, w := range weight {
					sum += j[a][i] * w * j[b][i]
				}
				sum /= spread * spread
				if a == b {
					sum += f.precision(a)
				}
				normal.SetSym(a, b, sum)
			}
		}
		if !chol.Factorize(normal) {
			return s, false
		}
		var move mat.VecDense
		if chol.SolveVecTo(&move, right) != nil {
			return s, false
		}
		for k := range theta {
			theta[k] += move.AtVec(k)
		}
	}
	f.residuals(theta, r)
	inflate := f.inflation(r)
	if f.doubled {
		inflate *= 2
	}
	for a := range m { // the data weighs less where its errors repeat themselves
		for b := a; b < m; b++ {
			v := normal.At(a, b)
			if a == b {
				v -= f.precision(a)
			}
			v /= inflate
			if a == b {
				v += f.precision(a)
			}
			normal.SetSym(a, b, v)
		}
	}
	if !chol.Factorize(normal) {
		return s, false
	}
	cov := mat.NewSymDense(m, nil)
	if chol.InverseTo(cov) != nil {
		return s, false
	}
	return solution{theta, cov, spread}, true
}

func (f *fit) precision(k int) float64 {
	if math.IsInf(f.sigma[k], 1) {
		return 0
	}
	return 1 / (f.sigma[k] * f.sigma[k])
}

// inflation is (1+r)/(1-r) with r the correlation of neighbouring residuals:
// the factor by which a first-order process carries less news than its number
// of values says.
func (f *fit) inflation(r []float64) float64 {
	var square, lagged float64
	for k, v := range r {
		square += v * v
		if k > 0 && f.follows(k) {
			lagged += v * r[k-1]
		}
	}
	if square == 0 {
		return 1
	}
	rho := max(0, min(0.97, lagged/square))
	return (1 + rho) / (1 - rho)
}

// robustSpread is the standard deviation of a normal distribution with the
// median distance from zero that the values have.
func robustSpread(r []float64) float64 {
	away := make([]float64, len(r))
	for i, v := range r {
		away[i] = math.Abs(v)
	}
	return 1.4826 * median(away)
}
