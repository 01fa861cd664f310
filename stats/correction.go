package stats

import "sort"

// Holm returns the p values adjusted for all of them by Holm's step-down
// method (Scandinavian Journal of Statistics 6:65-70, 1979), in the order
// given. The family-wise error is held whatever the dependence.
func Holm(p []float64) []float64 {
	weights := make([]float64, len(p))
	for i := range weights {
		weights[i] = 1
	}
	return WeightedHolm(p, weights)
}

// WeightedHolm is Holm's method with a share of the error for each test that is in
// proportion to its weight (the same paper, section 4; from memory): tests are taken
// in the order of p over weight, and each p is multiplied by the weights of the tests
// that are left, over its own. Weights are above 0 and do not depend on the data.
func WeightedHolm(p, weights []float64) []float64 {
	shares := make([]float64, len(p))
	left := 0.0
	for i, w := range weights {
		shares[i] = p[i] / w
		left += w
	}
	out := make([]float64, len(p))
	top := 0.0
	for _, i := range ascending(shares) {
		top = max(top, min(1, left*shares[i]))
		out[i] = top
		left -= weights[i]
	}
	return out
}

// BenjaminiHochberg returns the p values adjusted by the step-up method of
// Benjamini and Hochberg (JRSS B 57:289-300, 1995), in the order given. The
// false discovery rate is held for independent or positively dependent tests.
func BenjaminiHochberg(p []float64) []float64 {
	order := ascending(p)
	out := make([]float64, len(p))
	low := 1.0
	for k := len(order) - 1; k >= 0; k-- {
		i := order[k]
		low = min(low, float64(len(p))/float64(k+1)*p[i])
		out[i] = low
	}
	return out
}

func ascending(p []float64) []int {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return p[order[a]] < p[order[b]] })
	return order
}
