package stats

import (
	"math"

	"tunegate/stats/internal/numeric"
)

// SignedRankTest is the outcome of a one-sample Wilcoxon signed-rank test.
type SignedRankTest struct {
	W     float64 // sum of the ranks of the positive differences
	P     float64 // two-sided
	PUsed float64 // the same: this distribution is always symmetric
	Exact bool
}

// SignedRank tests whether differences centre on 0 (Wilcoxon 1945). Ranks are
// midranks of |d|; zeros are ranked and then left out (Pratt 1959). Exact over
// all sign changes, given the ties, up to 300 differences, else normal. It
// panics when d is empty.
func SignedRank(d []float64) SignedRankTest {
	if len(d) == 0 {
		panic("stats: signed-rank test of no differences")
	}
	size := make([]float64, len(d))
	for i, v := range d {
		size[i] = math.Abs(v)
	}
	var doubled []int // twice the rank of each nonzero difference
	w, all := 0, 0
	for i, r := range midranks(size) {
		if d[i] == 0 {
			continue
		}
		doubled = append(doubled, int(2*r))
		all += int(2 * r)
		if d[i] > 0 {
			w += int(2 * r)
		}
	}
	t := SignedRankTest{W: float64(w) / 2, Exact: len(d) <= 300}
	switch {
	case len(doubled) == 0:
		t.P, t.Exact = 1, true
	case t.Exact:
		t.P = 0
		total := 0.0
		for v, c := range subsetSums(doubled, all) {
			total += c
			if numeric.Abs(2*v-all) >= numeric.Abs(2*w-all) {
				t.P += c
			}
		}
		t.P = math.Min(1, t.P/total)
	default:
		variance := 0.0
		for _, r := range doubled {
			variance += float64(r) * float64(r) / 16
		}
		off := math.Abs(float64(w)/2 - float64(all)/4)
		t.P = math.Erfc(math.Max(0, off-0.5) / math.Sqrt(variance) / math.Sqrt2)
	}
	t.PUsed = t.P
	return t
}

// subsetSums counts the subsets of parts by their sum, from 0 to all.
func subsetSums(parts []int, all int) []float64 {
	count := make([]float64, all+1)
	count[0] = 1
	reach := 0
	for _, p := range parts {
		reach += p
		for v := reach; v >= p; v-- {
			count[v] += count[v-p]
		}
	}
	return count
}

// SmallestSignedRankP is the smallest two-sided p that n differences can
// reach: 2 / 2^n, at most 1.
func SmallestSignedRankP(n int) float64 { return math.Min(1, math.Ldexp(2, -n)) }

// ShareAbove is the share of differences above 0, those of 0 counted half.
func ShareAbove(d []float64) float64 {
	n := 0.0
	for _, v := range d {
		switch {
		case v > 0:
			n++
		case v == 0:
			n += 0.5
		}
	}
	return n / float64(len(d))
}

// WalshMedian returns the median of the Walsh averages (d_i + d_j)/2, i <= j:
// the Hodges-Lehmann estimate of the centre of one sample. It panics when d is
// empty. Time n log n.
func WalshMedian(d []float64) float64 {
	if len(d) == 0 {
		panic("stats: estimate of no differences")
	}
	return numeric.MiddleWalsh(numeric.Sorted(d))
}

// SignedRankInterval inverts the two-sided signed-rank test without ties: the
// ends are the c-th smallest and c-th largest Walsh average, c the largest
// number for which 2 P(W <= c-1) is at most 1 - confidence (Hollander and
// Wolfe 1973, section 3.3). ok is false where no shift can be rejected: below
// six differences at 95 %.
func SignedRankInterval(d []float64, confidence float64) (lo, hi float64, ok bool) {
	c := SignedRankCritical(len(d), 1-confidence)
	if c < 1 {
		return math.NaN(), math.NaN(), false
	}
	s := numeric.Sorted(d)
	return numeric.KthWalsh(s, c), numeric.KthWalsh(s, len(d)*(len(d)+1)/2+1-c), true
}

// SignedRankCritical is the c of SignedRankInterval; 0 where no shift can be
// rejected. From 301 differences on it is that of the normal approximation.
func SignedRankCritical(n int, alpha float64) int {
	if n < 1 || SmallestSignedRankP(n) > alpha+numeric.Slack {
		return 0
	}
	all := n * (n + 1) / 2
	if n > 300 {
		sd := math.Sqrt(float64(n) * float64(n+1) * float64(2*n+1) / 24)
		return max(1, int(math.Floor(float64(all)/2-numeric.NormalQuantile(1-alpha/2)*sd+0.5)))
	}
	ranks := make([]int, n)
	for i := range ranks {
		ranks[i] = i + 1
	}
	return criticalCount(subsetSums(ranks, all), alpha)
}
