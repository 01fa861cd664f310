package stats

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"tunegate/stats/internal/numeric"
)

// ClopperPearson returns the exact two-sided confidence interval of a failure
// rate from failures in n passes (Clopper and Pearson, Biometrika 26:404-413,
// 1934): its ends are beta quantiles, each with half of the error. Without
// failures lo is 0, without clean passes hi is 1; without any pass it is 0 to
// 1. It panics unless 0 <= failures <= n and confidence lies within 0 and 1.
func ClopperPearson(failures, n int, confidence float64) (lo, hi float64) {
	checkPasses(failures, n, confidence)
	half := (1 - confidence) / 2
	switch {
	case failures == 0:
		lo = 0
	case failures == n:
		lo = math.Pow(half, 1/float64(n))
	default:
		lo = mathext.InvRegIncBeta(float64(failures), float64(n-failures)+1, half)
	}
	return lo, rateUpTo(failures, n, half)
}

// UpperBound returns the one-sided upper confidence bound of a failure rate
// from failures in n passes (Clopper and Pearson 1934). Without failures it is
// 1 - (1 - confidence)^(1/n), at 95 % close to 3/n (the "rule of three",
// Hanley and Lippman-Hand, JAMA 249:1743-1745, 1983); 1 where no pass was
// clean. It panics as ClopperPearson does.
func UpperBound(failures, n int, confidence float64) float64 {
	checkPasses(failures, n, confidence)
	return rateUpTo(failures, n, 1-confidence)
}

// CleanPasses returns how many passes without a failure it takes to claim,
// with this confidence, that the failure rate is below rate: the smallest n
// with (1 - rate)^n <= 1 - confidence (the success-run theorem; see Hanley and
// Lippman-Hand 1983). It panics unless both lie within 0 and 1.
func CleanPasses(rate, confidence float64) int {
	if !numeric.Inside(rate) || !numeric.Inside(confidence) {
		panic("stats: rate or confidence is no probability")
	}
	n := math.Log1p(-confidence) / math.Log1p(-rate)
	if whole := math.Round(n); math.Abs(n-whole) < 1e-9*whole {
		return int(whole) // a rate that meets its limit exactly, but for rounding
	}
	return int(math.Ceil(n))
}

func checkPasses(failures, n int, confidence float64) {
	if failures < 0 || failures > n || !numeric.Inside(confidence) {
		panic("stats: more failures than passes, or confidence is no probability")
	}
}

// rateUpTo is the rate at which so few failures or fewer have the chance tail:
// the 1 - tail quantile of a beta distribution.
func rateUpTo(failures, n int, tail float64) float64 {
	switch failures {
	case n:
		return 1
	case 0:
		return -math.Expm1(math.Log(tail) / float64(n))
	}
	return mathext.InvRegIncBeta(float64(failures)+1, float64(n-failures), 1-tail)
}
