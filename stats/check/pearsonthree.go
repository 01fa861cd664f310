package check

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"tunegate/stats/internal/numeric"
)

// cumulants are the first three of a sum under the null hypothesis, and how
// far its fourth is from what they imply at most: the sum of fourth cumulants
// of its parts, as a share of the squared variance.
type cumulants struct{ mean, variance, third, heavy float64 }

// From limitFrom values on a permutation test takes the limit of its
// distribution, if that is near: where few values carry the sum, skewness or
// heavy is large, and orders are drawn.
const (
	limitFrom = 500
	maxSkew   = 0.5
	maxHeavy  = 0.15
)

// near says that pearsonTail describes the upper tail.
func (c cumulants) near() bool {
	return c.variance > 0 && math.Abs(c.third) <= maxSkew*math.Pow(c.variance, 1.5) && c.heavy <= maxHeavy
}

// pearsonTail is the upper tail of the type III curve of Pearson with these
// cumulants, a gamma distribution moved and scaled: the usual fit to the
// distribution of a permutation test from its exact moments (Mielke and Berry
// 2007, Permutation Methods, chapter 2; Kazi-Aoual, Hitier, Sabatier and
// Lebreton, Computational Statistics and Data Analysis 20:643-656, 1995). It is
// never below 1 in maxDraws + 1, as if it had been drawn: so far out the fit is
// not reliable.
func (c cumulants) pearsonTail(observed float64) float64 {
	z := (observed - c.mean) / math.Sqrt(c.variance)
	skew := c.third / math.Pow(c.variance, 1.5)
	shape := 4 / (skew * skew)
	p := 0.0
	switch {
	case math.Abs(skew) < 1e-4:
		p = numeric.NormalCDF(-z)
	case skew > 0:
		p = mathext.GammaIncRegComp(shape, math.Max(0, shape+z*math.Sqrt(shape)))
	default:
		p = mathext.GammaIncReg(shape, math.Max(0, shape-z*math.Sqrt(shape)))
	}
	return math.Max(p, 1.0/(maxDraws+1))
}

// powerSums are the sums of the second to the sixth powers, at their index, of
// values whose sum is 0.
func powerSums(d []float64) (p [7]float64) {
	for _, v := range d {
		w := v
		for k := 2; k < len(p); k++ {
			w *= v
			p[k] += w
		}
	}
	return p
}
