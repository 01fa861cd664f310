package check

import (
	"math/rand/v2"
	"slices"

	"tunegate/stats/internal/numeric"
)

// CommonEffect tests whether several quantities that were measured one after the
// other in each run rise and fall together from run to run. sides holds the
// values of each side: a row a quantity, in run order, all rows of a side of one
// length. The statistic is the variance of the weighted sums by run, pooled over
// sides; its null distribution comes from putting the runs of each quantity in
// other orders, drawn from the seed and counted with the order at hand. With
// limitFrom runs a side and more it comes from the exact moments over all orders
// (commonCumulants), unless few runs carry the sum. p is one-sided: small where
// the quantities share an effect. It is 1 for fewer than two quantities or three
// runs.
func CommonEffect(sides [][][]float64, weights []float64, draws int, seed uint64) (p float64) {
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
	if limit, observed := commonLimit(sides, weights); limit.near() {
		return limit.pearsonTail(observed)
	}
	return drawnCommonEffect(sides, weights, draws, seed)
}

// drawnCommonEffect is the p of CommonEffect from drawn orders.
func drawnCommonEffect(sides [][][]float64, weights []float64, draws int, seed uint64) (p float64) {
	seen := varianceOfSums(sides, weights)
	atLeast := make([]int, (draws+ordersPerChunk-1)/ordersPerChunk)
	numeric.OnAllCores(len(atLeast), func(chunk int) {
		g := rand.NewPCG(seed, 2<<32|uint64(chunk))
		order := make([][][]float64, len(sides)) // to be shuffled
		for s, side := range sides {
			for _, row := range side {
				order[s] = append(order[s], slices.Clone(row))
			}
		}
		for range min(ordersPerChunk, draws-chunk*ordersPerChunk) {
			for _, side := range order {
				for _, row := range side {
					shuffle(g, row)
				}
			}
			if varianceOfSums(order, weights) >= seen*(1-numeric.Slack) {
				atLeast[chunk]++
			}
		}
	})
	count := 1
	for _, n := range atLeast {
		count += n
	}
	return float64(count) / float64(draws+1)
}

// ordersPerChunk draws share a generator of their own, so that the number of cores
// never changes a result.
const ordersPerChunk = 25

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
		total += numeric.Variance(sums) * float64(len(sums)-1)
	}
	return total
}

// commonLimit sums commonCumulants over sides, and what was observed; nothing
// where a side has fewer than limitFrom runs.
func commonLimit(sides [][][]float64, weights []float64) (limit cumulants, observed float64) {
	for _, side := range sides {
		if len(side[0]) < limitFrom {
			return cumulants{}, 0
		}
		c, seen := commonCumulants(side, weights)
		limit.variance += c.variance
		limit.third += c.third
		limit.heavy += c.heavy * c.variance * c.variance
		observed += seen
	}
	limit.heavy /= limit.variance * limit.variance
	return limit, observed
}

// commonCumulants are those of one side's sum of squares of the sums by run
// less its mean, over all orders of the runs of each quantity, and the one
// observed. With y_q the deviations of a quantity from its mean times its
// weight, that is twice the sum over pairs of quantities q < r of
//
//	C_qr = sum y_qk y_rk over runs k
//
// whose mean is 0. The orders being independent, only products in which each
// quantity occurs at least twice have another mean:
//
//	E C_qr^2          = S_q S_r / (n-1)
//	E C_qr C_rs C_sq  = S_q S_r S_s / (n-1)^2
//	E C_qr^3          = Z_q Z_r n / ((n-1) (n-2))
//
// with S_q the sum of squares of y_q and Z_q that of cubes (moments of a
// permutation; Kazi-Aoual and others 1995, see pearsonTail). Of the fourth
// cumulant heavy counts what large products add.
func commonCumulants(side [][]float64, weights []float64) (c cumulants, observed float64) {
	n := float64(len(side[0]))
	sums, y := make([]float64, len(side[0])), make([]float64, len(side[0]))
	var s1, s2, s3, z1, z2, f1, f2 float64 // power sums over quantities, of S, Z and fourth powers
	for q, row := range side {
		centre := numeric.Mean(row)
		for k, v := range row {
			y[k] = weights[q] * (v - centre)
			sums[k] += y[k]
		}
		p := powerSums(y)
		s1, s2, s3 = s1+p[2], s2+p[2]*p[2], s3+p[2]*p[2]*p[2]
		z1, z2 = z1+p[3], z2+p[3]*p[3]
		f1, f2 = f1+p[4], f2+p[4]*p[4]
	}
	for _, v := range sums {
		observed += v * v
	}
	pairs := func(first, second float64) float64 { return (first*first - second) / 2 } // sum over q < r
	triples := (s1*s1*s1 - 3*s1*s2 + 2*s3) / 6
	c.variance = 4 * pairs(s1, s2) / (n - 1)
	c.third = 8 * (pairs(z1, z2)*n/((n-1)*(n-2)) + 6*triples/((n-1)*(n-1)))
	if c.variance > 0 {
		c.heavy = 16 * pairs(f1, f2) / n / (c.variance * c.variance)
	}
	return c, observed - s1
}
