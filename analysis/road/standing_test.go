package road

import (
	"math"
	"testing"
)

// A bike that never moves tells nothing of the grade, and the doubt of it is
// still a number.
func TestGradeOfAStandingBike(t *testing.T) {
	p := relief{height: make([]float64, 60), grade: make([]float64, 60), gradeSigma: make([]float64, 60)}
	p.fit(make([]float64, 60), make([]float64, 60))
	for i, sigma := range p.gradeSigma {
		if sigma != 1 || !math.IsNaN(p.grade[i]) {
			t.Fatalf("second %d: grade %g with a doubt of %g", i, p.grade[i], sigma)
		}
	}
}
