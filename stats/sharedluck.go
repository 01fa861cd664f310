package stats

import (
	"math/rand/v2"
	"slices"
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
	seen := varianceOfSums(sides, weights)
	as := make([]int, (draws+luckChunk-1)/luckChunk)
	onAllCores(len(as), func(chunk int) {
		g := rand.New(rand.NewPCG(seed, 2<<32|uint64(chunk)))
		order := make([][][]float64, len(sides)) // to be shuffled
		for s, side := range sides {
			for _, row := range side {
				order[s] = append(order[s], slices.Clone(row))
			}
		}
		for range min(luckChunk, draws-chunk*luckChunk) {
			for _, side := range order {
				for _, row := range side {
					g.Shuffle(len(row), func(i, j int) { row[i], row[j] = row[j], row[i] })
				}
			}
			if varianceOfSums(order, weights) >= seen*(1-slack) {
				as[chunk]++
			}
		}
	})
	count := 1
	for _, n := range as {
		count += n
	}
	return float64(count) / float64(draws+1)
}

// luckChunk draws share a generator of their own, so that the number of cores
// never changes a result.
const luckChunk = 25

// varianceOfSums is the sum of squares of the weighted sums by run, within sides.
func varianceOfSums(sides [][][]float64, weights []float64) float64 {
	total := 0.0
	for _, side := range sides {
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
