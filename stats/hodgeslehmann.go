package stats

import (
	"math"

	"tunegate/stats/internal/numeric"
)

// HodgesLehmann returns the median of all differences after_j - before_i
// (Hodges and Lehmann 1963), the mean of the middle two where their number is
// even. Time grows with (m+n) log(m+n), not with m n. It panics when a side
// is empty.
func HodgesLehmann(before, after []float64) float64 {
	if len(before) == 0 || len(after) == 0 {
		panic("stats: estimate of an empty side")
	}
	x, y := numeric.Sorted(before), numeric.Sorted(after)
	return numeric.MedianDifference(x, y)
}

// RankCritical returns the largest c with 2 P(U <= c-1) <= alpha for m and n
// untied values; 0 where there is none. From the normal approximation with
// continuity correction where the exact distribution is too large.
func RankCritical(m, n int, alpha float64) int {
	if m < 1 || n < 1 || SmallestP(m, n) > alpha+numeric.Slack {
		return 0
	}
	if !exactFeasible(m, n, false) {
		return max(1, int(math.Floor(normalCritical(m, n, alpha))))
	}
	return criticalCount(numeric.UntiedCounts(m, n), alpha)
}

// normalCritical is RankCritical in the limit, with a fraction.
func normalCritical(m, n int, alpha float64) float64 {
	mn := float64(m) * float64(n)
	return mn/2 - numeric.NormalQuantile(1-alpha/2)*math.Sqrt(mn*float64(m+n+1)/12) + 0.5
}

// criticalCount returns the largest c for which the first c entries hold at
// most alpha/2 of the whole.
func criticalCount(counts []float64, alpha float64) int {
	total := 0.0
	for _, w := range counts {
		total += w
	}
	sum := 0.0
	for c, w := range counts {
		sum += w
		if 2*sum > (alpha+numeric.Slack)*total {
			return c
		}
	}
	return 0
}
