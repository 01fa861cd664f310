package stats

// variance is the unbiased variance; 0 for fewer than two values, and exactly
// 0 for a constant sample.
func variance(x []float64) float64 {
	if len(x) < 2 {
		return 0
	}
	mean := mean(x)
	sum := 0.0
	for _, v := range x {
		sum += (v - mean) * (v - mean)
	}
	return sum / float64(len(x)-1)
}

// mean is taken about the first value, so that a constant sample has exactly
// its value as mean.
func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v - x[0]
	}
	return x[0] + sum/float64(len(x))
}
