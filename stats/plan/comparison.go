package plan

import (
	"math"

	"tunegate/stats"
	"tunegate/stats/internal/numeric"
)

// comparison is a planned comparison of given sizes.
type comparison struct {
	se      float64 // standard error of the change, by the pilot's spread
	pilotDF float64 // on which that rests
	df      float64 // on which the comparison's own standard error will rest
	t       float64 // how many of those the change has to be; +Inf where none will do
}

// comparison plans one of m and n values, or of n blocks. Welch's t has to reach the
// critical p, and the own test and the interval their level.
func (p Plan) comparison(m, n int) comparison {
	se, df, welchDF := p.pilot.standardError(m, n)
	c := comparison{se: se, pilotDF: p.pilot.DF, df: df, t: math.Inf(1)}
	if own := 1 - p.design.Confidence; p.pilot.reaches(m, n, own) {
		c.t = math.Max(student(1-p.design.CriticalP/2, welchDF), p.pilot.ownT(m, n, own))
	}
	return c
}

// found is the chance that a true loss is found real. With Z normal, U the pilot's
// spread over the true one and V the spread that the comparison itself will find over
// the true one, a loss of k standard errors by the pilot's spread is found where
//
//	Z + k U >= t V
//
// U and V being roots of chi-squares over their degrees of freedom. V is close to
// normal with mean 1 - 1/(4 df) and variance 1/(2 df) (Johnson and Welch, Biometrika
// 31:362-389, 1940), which leaves a noncentral t on the pilot's degrees of freedom.
func (c comparison) found(loss float64) float64 {
	if math.IsInf(c.t, 1) || loss <= 0 {
		return 0
	}
	root := math.Sqrt(1 + c.t*c.t/(2*c.df))
	return numeric.NoncentralTCDF(loss/c.se/root, c.pilotDF, c.t*(1-1/(4*c.df))/root)
}

// ownCost is by how much the exact test and the interval together ask for more
// standard errors than Student's t at the same level: ranks the root of pi/3, 2.3 %,
// in normal noise, the interval the rest (measured for 4 to 30 values a side).
const ownCost = 1.05

// ownT is how many standard errors a change has to be for the own test and the
// interval: Student's t at the level that the exact test attains.
func (p Pilot) ownT(m, n int, alpha float64) float64 {
	return ownTs.Get(ownTest{m, n, p.Paired, alpha}, func() float64 {
		if !p.Paired {
			return ownCost * numeric.StudentQuantile(1-attainedLevel(m, n, false, alpha)/2, float64(m+n-2))
		}
		if n < MinRankBlocks(alpha) { // the own test is Student's
			return numeric.StudentQuantile(1-alpha/2, float64(n-1))
		}
		return ownCost * numeric.StudentQuantile(1-attainedLevel(m, n, true, alpha)/2, float64(n-1))
	})
}

type ownTest struct {
	m, n   int
	paired bool
	alpha  float64
}

var ownTs = numeric.Memo[ownTest, float64]{Max: 1024}

// attainedLevel is the largest p up to alpha of the rank test, or of the signed-rank
// test of n blocks, by the normal approximation at the exact test's critical value;
// alpha in large samples.
func attainedLevel(m, n int, paired bool, alpha float64) float64 {
	middle, variance := float64(m*n)/2, float64(m*n*(m+n+1))/12
	critical := stats.RankCritical
	if paired {
		middle, variance = float64(n*(n+1))/4, float64(n*(n+1)*(2*n+1))/24
		critical = func(_, n int, alpha float64) int { return stats.SignedRankCritical(n, alpha) }
	}
	if middle > 450 {
		return alpha
	}
	return 2 * numeric.NormalCDF((float64(critical(m, n, alpha))-0.5-middle)/math.Sqrt(variance))
}
