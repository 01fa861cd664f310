package stats

import "sort"

// Holm returns the p values adjusted for all of them by Holm's step-down
// method (Scandinavian Journal of Statistics 6:65-70, 1979), in the order
// given. The family-wise error is held whatever the dependence.
func Holm(p []float64) []float64 {
	order := ascending(p)
	out := make([]float64, len(p))
	top := 0.0
	for k, i := range order {
		top = max(top, min(1, float64(len(p)-k)*p[i]))
		out[i] = top
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
