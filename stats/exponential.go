package stats

import (
	"gonum.org/v1/gonum/stat/distuv"

	"tunegate/stats/internal/numeric"
)

// FailuresPerHourBound returns the one-sided upper confidence bound of a
// constant failure rate from the number of failures in so many hours of testing,
// the hours fixed beforehand and taken over all machines:
//
//	chi2(confidence; 2 failures + 2) / (2 hours)
//
// (Garwood, Biometrika 28:437-442, 1936; Epstein and Sobel, JASA 48:486-502,
// 1953, for exponential times). Without failures that is -ln(1 - confidence) /
// hours. That the rate is constant is an assumption: a machine that fails when it
// is hot, or not before its third hour, breaks it. It panics unless failures are
// at least 0, hours above 0 and confidence lies within 0 and 1.
func FailuresPerHourBound(failures int, hours, confidence float64) float64 {
	checkHours(failures, hours, confidence)
	return chiSquaredQuantile(confidence, 2*failures+2) / (2 * hours)
}

// CleanHours returns how many hours without a failure it takes to claim, with
// this confidence, that there are fewer than rate failures an hour:
// -ln(1 - confidence) / rate. It panics unless rate is above 0 and confidence
// lies within 0 and 1.
func CleanHours(rate, confidence float64) float64 {
	if !(rate > 0) || !numeric.Inside(confidence) {
		panic("stats: rate is not above 0, or confidence is no probability")
	}
	return chiSquaredQuantile(confidence, 2) / 2 / rate
}

func checkHours(failures int, hours, confidence float64) {
	if failures < 0 || !(hours > 0) || !numeric.Inside(confidence) {
		panic("stats: failures below 0, no hours, or confidence is no probability")
	}
}

func chiSquaredQuantile(p float64, df int) float64 {
	return distuv.ChiSquared{K: float64(df)}.Quantile(p)
}
