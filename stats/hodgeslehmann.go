package stats

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// HodgesLehmann returns the median of all differences after_j - before_i
// (Hodges and Lehmann 1963), the mean of the middle two where their number is
// even. Time grows with (m+n) log(m+n), not with m n. It panics when a side
// is empty.
func HodgesLehmann(before, after []float64) float64 {
	if len(before) == 0 || len(after) == 0 {
		panic("stats: estimate of an empty side")
	}
	x, y := sorted(before), sorted(after)
	return medianDifference(x, y)
}

func medianDifference(x, y []float64) float64 {
	mn := len(x) * len(y)
	low := kthDifference(x, y, (mn+1)/2)
	if mn%2 == 1 {
		return low
	}
	return mid(low, kthDifference(x, y, mn/2+1))
}

// mid is the mean of two numbers: exact where they are equal, and mirrored
// exactly when both signs turn.
func mid(a, b float64) float64 { return (a + b) / 2 }

// kthDifference returns the k-th smallest (from 1) of the m n differences
// y_j - x_i, for x and y in ascending order: selection in a matrix with sorted
// rows and columns, narrowing by a weighted median of row medians (Johnson and
// Mizoguchi, SIAM Journal on Computing 7:147-153, 1978).
func kthDifference(x, y []float64, k int) float64 {
	m, n := len(x), len(y)
	if m*n <= 256 {
		all := make([]float64, 0, m*n)
		for _, a := range x {
			for _, b := range y {
				all = append(all, b-a)
			}
		}
		sort.Float64s(all)
		return all[k-1]
	}
	lo, hi := make([]int, m), make([]int, m) // row i still holds y[lo[i]:hi[i]]
	for i := range hi {
		hi[i] = n
	}
	type row struct {
		median float64
		weight int
	}
	rows := make([]row, 0, m)
	below, upTo := make([]int, m), make([]int, m)
	left := m * n
	for left > 2*(m+n) {
		rows = rows[:0]
		for i, a := range x {
			if lo[i] < hi[i] {
				rows = append(rows, row{y[(lo[i]+hi[i])/2] - a, hi[i] - lo[i]})
			}
		}
		slices.SortFunc(rows, func(a, b row) int { return cmp.Compare(a.median, b.median) })
		pivot, w := 0.0, 0
		for _, r := range rows {
			if pivot, w = r.median, w+r.weight; 2*w >= left {
				break
			}
		}
		under := countDifferences(x, y, pivot, below, false)
		notOver := countDifferences(x, y, pivot, upTo, true)
		switch {
		case k <= under:
			copy(hi, below)
		case k > notOver:
			copy(lo, upTo)
		default:
			return pivot
		}
		left = 0
		for i := range lo {
			left += max(0, hi[i]-lo[i])
		}
	}
	rest := make([]float64, 0, left)
	for i, a := range x {
		k -= lo[i]
		for j := lo[i]; j < hi[i]; j++ {
			rest = append(rest, y[j]-a)
		}
	}
	sort.Float64s(rest)
	return rest[k-1]
}

// countDifferences counts the differences y_j - x_i below d (up to and with d
// if orEqual), row by row into count, for ascending x and y. Time m + n.
func countDifferences(x, y []float64, d float64, count []int, orEqual bool) int {
	total, j := 0, 0
	for i, a := range x {
		for j < len(y) && (y[j]-a < d || orEqual && y[j]-a == d) {
			j++
		}
		count[i] = j
		total += j
	}
	return total
}

// RankInterval inverts the two-sided rank test: it holds every shift that the
// test without ties would not reject. The ends are the c-th smallest and the
// c-th largest difference after - before, with c the largest number for which
// 2 P(U <= c-1) is at most 1 - confidence (Hollander and Wolfe 1973, section
// 4.3). ok is false where no shift can be rejected.
func RankInterval(before, after []float64, confidence float64) (lo, hi float64, ok bool) {
	m, n := len(before), len(after)
	c := rankCritical(m, n, 1-confidence)
	if c < 1 {
		return math.NaN(), math.NaN(), false
	}
	x, y := sorted(before), sorted(after)
	return kthDifference(x, y, c), kthDifference(x, y, m*n+1-c), true
}

// rankCritical returns the largest c with 2 P(U <= c-1) <= alpha for m and n
// untied values; 0 where there is none. From the normal approximation with
// continuity correction where the exact distribution is too large.
func rankCritical(m, n int, alpha float64) int {
	if m < 1 || n < 1 || SmallestP(m, n) > alpha+slack {
		return 0
	}
	if !exactFeasible(m, n, false) {
		mn := float64(m) * float64(n)
		sd := math.Sqrt(mn * float64(m+n+1) / 12)
		return max(1, int(math.Floor(mn/2-normalQuantile(1-alpha/2)*sd+0.5)))
	}
	return criticalCount(untiedCounts(m, n), alpha)
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
		if 2*sum > (alpha+slack)*total {
			return c
		}
	}
	return 0
}
