package numeric

import "math"

// MAD returns the median absolute deviation: the median of the distances from
// the median. It is not scaled; for normal noise it is 0.6745 standard
// deviations. It panics when there is no value.
func MAD(x []float64) float64 {
	if len(x) == 0 {
		panic("stats: median of no values")
	}
	return Middle(Sorted(Distances(x)))
}

// Distances are from the median.
func Distances(x []float64) []float64 {
	centre := Middle(Sorted(x))
	d := make([]float64, len(x))
	for i, v := range x {
		d[i] = math.Abs(v - centre)
	}
	return d
}
