package numeric

import "math"

// Variance is the unbiased variance; 0 for fewer than two values, and exactly
// 0 for a constant sample.
func Variance(x []float64) float64 {
	if len(x) < 2 {
		return 0
	}
	mean := Mean(x)
	sum := 0.0
	for _, v := range x {
		sum += (v - mean) * (v - mean)
	}
	return sum / float64(len(x)-1)
}

// Mean is taken about the first value, so that a constant sample has exactly
// its value as mean.
func Mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v - x[0]
	}
	return x[0] + sum/float64(len(x))
}

// Welch returns the variances of both means, as shares of the larger one, and
// the degrees of freedom of Welch and Satterthwaite; ok is false where both sides
// are constant or a variance overflows (spreads from 1e154 on).
func Welch(x, y []float64) (vx, vy, df float64, ok bool) {
	m, n := float64(len(x)), float64(len(y))
	vx, vy = Variance(x)/m, Variance(y)/n
	larger := math.Max(vx, vy)
	if !(larger > 0) || math.IsInf(larger, 0) {
		return 0, 0, 0, false
	}
	vx, vy = vx/larger, vy/larger // their squares might leave the range of a float64
	return vx, vy, (vx + vy) * (vx + vy) / (vx*vx/(m-1) + vy*vy/(n-1)), true
}
