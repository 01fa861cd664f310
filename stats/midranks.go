package stats

import (
	"math"
	"sort"

	"tunegate/stats/internal/numeric"
)

// midranks returns the rank of each value among all of them, from 1; tied
// values share the mean of the ranks they cover. The sum is n(n+1)/2. It panics
// if a value is NaN.
func midranks(x []float64) []float64 {
	order := make([]int, len(x))
	for i, v := range x {
		if math.IsNaN(v) {
			panic(numeric.NotANumber)
		}
		order[i] = i
	}
	sort.Slice(order, func(a, b int) bool { return x[order[a]] < x[order[b]] })
	ranks := make([]float64, len(x))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && x[order[j]] == x[order[i]] {
			j++
		}
		for _, k := range order[i:j] {
			ranks[k] = float64(i+j+1) / 2
		}
		i = j
	}
	return ranks
}
