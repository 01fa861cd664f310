package check

import (
	"math"
	"sort"

	"tunegate/stats/internal/numeric"
)

// MannKendall tests for a trend of values over their order that sessions share
// (Mann, Econometrica 13:245-259, 1945; Kendall 1975, Rank Correlation Methods):
// pairs are counted within sessions only, and S and its distribution are summed
// over them (the seasonal test of Hirsch, Slack and Smith, Water Resources
// Research 18:107-121, 1982, with sessions for seasons). What sessions differ by
// does not matter. s counts the pairs in which the later value is larger less
// those in which it is smaller. tau is Kendall's tau-b with the order, from -1 to
// 1, and 0 where no pair differs. p is two-sided, P(|S| >= |s|) over all orders
// within sessions, exact given the ties up to some 490 values of one session (200
// with many ties), else normal with tie and continuity correction.
func MannKendall(sessions [][]float64) (s int, tau, p float64) {
	var ranked [][]int // sizes of the groups of tied values, a list a session
	pairs, untied, variance := 0, 0, 0.0
	for _, x := range sessions {
		groups, tied := numeric.TieSizes(x)
		n := len(x)
		pairs += n * (n - 1) / 2
		untied += n*(n-1)/2 - tied
		s += n*(n-1)/2 - tied - 2*inversions(x)
		variance += kendallTerm(n)
		for _, t := range groups {
			variance -= kendallTerm(t)
		}
		ranked = append(ranked, groups)
	}
	if untied == 0 {
		return 0, 0, 1
	}
	tau = float64(s) / math.Sqrt(float64(pairs)*float64(untied))
	if count := sharedInversionCounts(ranked); count != nil {
		var total, extreme float64
		for v, c := range count {
			total += c
			if numeric.Abs(untied-2*v) >= numeric.Abs(s) {
				extreme += c
			}
		}
		return s, tau, math.Min(1, extreme/total)
	}
	z := math.Max(0, float64(numeric.Abs(s))-1) / math.Sqrt(variance)
	return s, tau, math.Erfc(z / math.Sqrt2)
}

// kendallTerm is what n values, or a tie of n, add to or take from the
// variance of S.
func kendallTerm(n int) float64 {
	v := float64(n)
	return v * (v - 1) * (2*v + 5) / 18
}

// inversions counts the pairs in which the later value is smaller.
func inversions(x []float64) int {
	work, spare := append([]float64(nil), x...), make([]float64, len(x))
	return mergeCount(work, spare)
}

func mergeCount(x, spare []float64) int {
	if len(x) < 2 {
		return 0
	}
	h := len(x) / 2
	count := mergeCount(x[:h], spare[:h]) + mergeCount(x[h:], spare[h:])
	copy(spare, x)
	i, j := 0, h
	for k := range x {
		if i < h && (j == len(x) || spare[i] <= spare[j]) {
			x[k] = spare[i]
			i++
		} else {
			x[k] = spare[j]
			j++
			count += h - i
		}
	}
	return count
}

// trendLimit bounds the steps that an exact distribution of S may take: some
// tens of milliseconds.
const trendLimit = 2e7

// sharedInversionCounts is inversionCounts, shared between series with the same
// ties; nil where that takes too long. Do not write to it.
func sharedInversionCounts(ranked [][]int) []float64 {
	var sizes []int
	for _, groups := range ranked {
		sizes = append(sizes, len(groups))
		sizes = append(sizes, groups...)
	}
	return trendNulls.Get(numeric.SizesKey(sizes), func() []float64 {
		count, _ := inversionCounts(ranked)
		return count
	})
}

var trendNulls = numeric.Memo[string, []float64]{Max: 32}

// inversionCounts is proportional to how many orders within sessions have a
// number of inversions (the index), given the sizes of the tied groups of each
// session: the product of Gaussian binomials, since the t values of a group
// can stand among those smaller ones in as many ways as a rank test of the two
// has outcomes. ok is false where that takes too long.
func inversionCounts(ranked [][]int) (count []float64, ok bool) {
	steps, cells := 0.0, 1.0
	for _, sizes := range ranked {
		below := 0
		own := 1.0
		for _, t := range sizes {
			own += float64(t) * float64(below)
			if t == 1 {
				steps += own
			} else {
				steps += own * float64(t*below+1)
			}
			below += t
		}
		steps += cells * own
		cells += own
	}
	if steps > trendLimit {
		return nil, false
	}
	count = []float64{1}
	for _, sizes := range ranked {
		sizes = append([]int(nil), sizes...)
		sort.Sort(sort.Reverse(sort.IntSlice(sizes))) // the order does not matter; large ties first is faster
		own, below := []float64{1}, 0
		for _, t := range sizes {
			if t == 1 {
				own = insertOne(own, below)
			} else if below > 0 {
				own = numeric.Convolve(own, numeric.UntiedCounts(below, t))
			}
			below += t
		}
		count = numeric.Convolve(count, own)
	}
	return count, true
}

// insertOne is a distribution of inversions after one more, larger value was
// put anywhere among below others: the mean of it moved by 0 to below. The
// lower half is summed and mirrored, so that the tails stay as exact as the
// sums.
func insertOne(count []float64, below int) []float64 {
	out := make([]float64, len(count)+below)
	window := 0.0
	for i := range out[:(len(out)+1)/2] {
		if i < len(count) {
			window += count[i]
		}
		if i > below {
			window -= count[i-below-1]
		}
		out[i] = window / float64(below+1)
		out[len(out)-1-i] = out[i]
	}
	return out
}
