package stats

import (
	"math"

	"tunegate/stats/internal/numeric"
)

// WelchInterval returns Student's interval of the difference of the means, after
// minus before, for sides whose spreads may differ: the variances of both means
// added, on the degrees of freedom of Welch and Satterthwaite (Welch, Biometrika
// 34:28-35, 1947). It assumes normal noise. ok is false with fewer than two values
// on a side, and where both are constant.
func WelchInterval(before, after []float64, confidence float64) (lo, hi float64, ok bool) {
	m, n := float64(len(before)), float64(len(after))
	if m < 2 || n < 2 {
		return math.NaN(), math.NaN(), false
	}
	_, _, df, ok := numeric.Welch(before, after)
	if !ok {
		return math.NaN(), math.NaN(), false
	}
	half := numeric.StudentQuantile((1+confidence)/2, df) * math.Sqrt(numeric.Variance(before)/m+numeric.Variance(after)/n)
	change := numeric.Mean(after) - numeric.Mean(before)
	return change - half, change + half, true
}
