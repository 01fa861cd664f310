package check

import (
	"math"

	"tunegate/stats/internal/numeric"
)

// ModifiedZ returns for each value how far it lies from the median, in
// standard deviations that few far values do not disturb:
//
//	0.6745 (x - median) / MAD
//
// (Iglewicz and Hoaglin 1993, How to Detect and Handle Outliers, page 11 f.;
// they call values beyond 3.5 potential outliers). That limit is for normal
// noise. On a skewed series of 20 it is passed more often than not, so it says
// how far off a value is and Outlier says whether that is news.
//
// Where more than half of the values are the same the MAD is 0. The mean
// distance from the median then takes its place, with the factor
// sqrt(2/pi) = 0.7979 that makes the same of normal noise; a single different value
// among n gets 0.8 n, however near it is. All scores are 0 where all values
// are the same. It panics when there is no value.
func ModifiedZ(x []float64) []float64 {
	scale := numeric.MAD(x) / 0.6745
	if scale == 0 {
		scale = numeric.Mean(numeric.Distances(x)) / math.Sqrt(2/math.Pi)
	}
	centre := numeric.Middle(numeric.Sorted(x))
	z := make([]float64, len(x))
	if scale == 0 {
		return z
	}
	for i, v := range x {
		z[i] = (v - centre) / scale
	}
	return z
}
