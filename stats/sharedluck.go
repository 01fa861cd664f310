package stats

import (
	"math"
	"math/rand/v2"
)

// SharedLuck tests whether several quantities that were measured one after the
// other in each run rise and fall together from run to run. sides holds the
// values of each side: a row a quantity, in run order, all rows of a side of
// one length. The statistic is the variance of the weighted sums by run,
// pooled over sides; its null distribution comes from putting the runs of each
// quantity in other orders, drawn from the seed and counted with the order at
// hand. p is one-sided: large where luck is shared. It is 1 for fewer than two
// quantities or three runs.
func SharedLuck(sides [][][]float64, weights []float64, draws int, seed uint64) (p float64) {
	if len(weights) < 2 {
		return 1
	}
	for _, side := range sides {
		for _, row := range side {
			if len(row) < 3 || len(row) != len(side[0]) {
				return 1
			}
		}
	}
	order := make([][][]float64, len(sides)) // to be shuffled
	for s, side := range sides {
		for _, row := range side {
			order[s] = append(order[s], append([]float64(nil), row...))
		}
	}
	statistic := func() float64 {
		total := 0.0
		for _, side := range order {
			sums := make([]float64, len(side[0]))
			for q, row := range side {
				for k, v := range row {
					sums[k] += weights[q] * v
				}
			}
			total += variance(sums) * float64(len(sums)-1)
		}
		return total
	}
	seen := statistic()
	g := rand.New(rand.NewPCG(seed, 2))
	as := 1
	for range draws {
		for _, side := range order {
			for _, row := range side {
				g.Shuffle(len(row), func(i, j int) { row[i], row[j] = row[j], row[i] })
			}
		}
		if statistic() >= seen*(1-slack) {
			as++
		}
	}
	return math.Min(1, float64(as)/float64(draws+1))
}
