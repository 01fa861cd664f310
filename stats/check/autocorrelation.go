package check

import (
	"tunegate/stats/internal/numeric"
)

// Lag1 returns the lag-1 autocorrelation of values in order, as NIST defines
// it: the products of neighbouring deviations from the mean, summed, over the
// sum of squared deviations. 0 for fewer than three values or a constant.
func Lag1(x []float64) float64 {
	if len(x) < 3 {
		return 0
	}
	centre := numeric.Mean(x)
	products, squares := 0.0, 0.0
	for i, v := range x {
		squares += (v - centre) * (v - centre)
		if i > 0 {
			products += (v - centre) * (x[i-1] - centre)
		}
	}
	if squares == 0 {
		return 0
	}
	return products / squares
}
