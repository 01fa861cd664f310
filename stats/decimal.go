package stats

import (
	"math"
	"slices"

	"tunegate/stats/internal/numeric"
)

// MaxAbs is the largest absolute value; 0 without any.
func MaxAbs(x ...[]float64) float64 {
	largest := 0.0
	for _, values := range x {
		for _, v := range values {
			largest = math.Max(largest, math.Abs(v))
		}
	}
	return largest
}

// RoundDecimal takes the noise of binary arithmetic off a sum, difference or mean
// of decimals of the given magnitude: it keeps twelve places, counted from that
// magnitude's first. So 80.3 - 80.1 ties with 60.4 - 60.2, and an end of an
// interval that should be 0 is. A value stays as it is where the magnitude is 0 or
// not above 1e-11, or above 1e12.
func RoundDecimal(v, magnitude float64) float64 {
	if !(magnitude > 0) || math.IsInf(magnitude, 1) {
		return v
	}
	places := 12 - int(math.Ceil(math.Log10(magnitude)))
	if places < 0 || places > 22 { // powers of ten are exact up to 22
		return v
	}
	unit := math.Pow10(places)
	return math.Round(v*unit) / unit
}

// Median is the middle of values in any order, or the mean of the two middle ones.
// It panics without values.
func Median(x []float64) float64 {
	if len(x) == 1 {
		return x[0]
	}
	s := slices.Clone(x)
	numeric.Sort(s)
	return numeric.Middle(s)
}

// Evenly picks n of more ascending values, Evenly spaced.
func Evenly(x []float64, n int) []float64 {
	if len(x) <= n {
		return x
	}
	out := make([]float64, n)
	for i := range out {
		out[i] = x[(2*i+1)*len(x)/(2*n)]
	}
	return out
}
