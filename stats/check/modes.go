package check

import (
	"math"
	"slices"

	"tunegate/stats"
	"tunegate/stats/internal/numeric"
)

// TwoModes tests whether the values fall into two groups of at least two, with
// a gap between them that one hump of noise would not leave. Values are the
// distances of runs from the median of their session, so that what sessions
// differ by does not count; sessions of fewer than three are left out, and a
// single session is taken as it is. A mode that lasts a whole session is not seen
// here; it is what SessionsApart looks for. For each split of the n sorted values
// into k and n - k the score is
//
//	gap / sd * sqrt(min(k, n-k))
//
// with sd the standard deviation within both groups together. group holds the
// indices of the smaller group of the best split, ascending, counted through all
// sessions in order. p is the chance of so large a score among values of
// exponential, of uniform or of Student's t noise with 5 degrees of freedom,
// whichever is largest, in sessions of the same sizes, from a fixed seed, or from limitFrom values on from the limit
// (splitLimit); it is at least 1 in 10,000. Those are
// the unfavourable shapes with one hump: a long tail, where gaps grow outwards,
// and no middle, where a split leaves least within groups, and for hundreds of values
// two far tails. Normal, gamma and Laplace noise reach the same score less often.
//
// Why not the dip test: the dip of Hartigan and Hartigan (Annals of
// Statistics 13:70-84, 1985) sees how many values are in the second group, not
// how far off it lies, and one in five of twenty are four. Tests of the gap
// against the spacings below it (exact for exponential noise by Sukhatme's
// spacings) and of the likelihood of two normal groups against one hump were
// compared by simulation: at the same level they found less, or they did not
// hold it in gamma and Laplace noise. At p 0.01 one run in five that is 6.7
// standard deviations off is found in half of the series of 20, in nine of ten
// series of 60 and in one of ten series of 10; half of 20 runs 6 standard deviations
// off in seven of ten. Two modes 4 standard deviations apart look like one hump: of 20 runs
// they are found in 2 to 8 %.
//
// Readings are rounded: the gap counts less one step, as of resolution, sd at least
// as that of the rounding, step/sqrt(12). So two distinct values alone, such as
// 30 and 60 frames a second, never pass for two modes: they may be neighbours
// on the scale they were read from. It returns nil, 0 and 1 for fewer than four
// values and where no two values differ by more than a step.
func TwoModes(sessions [][]float64) (group []int, score, p float64) {
	d := newDeviations(sessions)
	n := len(d.value)
	if n < 4 {
		return nil, 0, 1
	}
	s := numeric.Sorted(d.value)
	below, score := bestSplit(s, resolution(sessions...))
	if score == 0 {
		return nil, 0, 1
	}
	lower := 2*below <= n
	for i, v := range d.value {
		if (v < s[below]) == lower {
			group = append(group, d.at[i])
		}
	}
	if d.long() {
		return group, score, limited(splitLimit(score, n))
	}
	return group, score, d.p(score, apart)
}

var apart = &statistic{[]noise{skewedNoise, flatNoise, heavyNoise}, func(x, spare []float64) float64 {
	numeric.SortWith(x, spare)
	_, score := bestSplit(x, 0)
	return score
}}

// splitLimit is the chance of a score of the best split among n values of
// exponential or of Student's t noise, whichever is larger. In uniform noise all gaps
// shrink with n, so that its p is far smaller (TestLimitsOfScores compares them).
func splitLimit(score float64, n int) float64 {
	return math.Max(skewedSplitLimit(score, n), heavySplitLimit(score, n))
}

// skewedSplitLimit is that in exponential noise. The gap below its j largest values is
// exponential with mean 1/j, and gaps are independent (Sukhatme, Annals of Eugenics
// 8:52-56, 1937; Renyi, Acta Mathematica Hungarica 4:191-231, 1953). So no split of
// those reaches the score with the chance
//
//	prod (1 - exp(-score sd_j sqrt(j))),   sd_j^2 = 1 - f/(1-f) ln(f)^2,   f = j/n
//
// over j from 2 to n/2; the gaps of the lower half are too small to count. sd_j
// is the standard deviation within both groups: the j largest have the mean 1 -
// ln(f).
func skewedSplitLimit(score float64, n int) float64 {
	none := 1.0
	for j := 2; j <= n/2 && none > 1e-12; j++ {
		f := float64(j) / float64(n)
		sd := math.Sqrt(1 - f/(1-f)*math.Log(f)*math.Log(f))
		reaches := math.Exp(-score * sd * math.Sqrt(float64(j)))
		if reaches < 1e-12 {
			break
		}
		none *= 1 - reaches
	}
	return 1 - none
}

// heavySplitLimit is that in Student's t noise. Given the value y below the j largest,
// those are j values from the tail beyond y, all of them beyond y + g with the chance
// (S(y + g) / S(y))^j, S(y) = P(T > y). With g the gap that reaches the score, two ends,
// and Y by S(Y) ~ Beta(j+1, n-j) (the midpoint rule over quantiles), no split reaches the
// score with about the chance
//
//	prod (1 - E (S(Y + g_j) / S(Y))^j)^2,   g_j = score sd_j / sqrt(j)
//
// sd_j is what is left of the variance 5/3 once the j largest are a group of their own:
// beyond y the tail falls nearly as y^-5, and the square of its mean is 25/16 y^2.
// Groups beyond the 8 largest are too near the others to count.
func heavySplitLimit(score float64, n int) float64 {
	const points, largest = 8, 8
	tails := heavyLargest.Get(n, func() [][]tailPoint {
		var out [][]tailPoint
		for j := 2; j <= largest; j++ {
			out = append(out, tailPoints(j, n, points, 1))
		}
		return out
	})
	none := 1.0
	for k, below := range tails {
		j, reaches := float64(k+2), 0.0
		middle := below[points/2].y
		sd := math.Sqrt(heavyDF/(heavyDF-2.0) - 25.0/16*middle*middle*j/float64(n))
		for _, at := range below {
			reaches += math.Pow(heavyTail.CDF(-at.y-score*sd/math.Sqrt(j))/at.beyond, j) / points
		}
		none *= (1 - reaches) * (1 - reaches)
	}
	return 1 - none
}

var heavyLargest = numeric.Memo[int, [][]tailPoint]{Max: 64}

// bestSplit returns the size of the lower group and the score of the best
// split of ascending values.
func bestSplit(s []float64, step float64) (below int, score float64) {
	n := len(s)
	centre := numeric.Mean(s)
	total := 0.0
	for _, v := range s {
		total += (v - centre) * (v - centre)
	}
	// Where each group has one value only, the rounding of the sums must not
	// pass for their spread.
	least := math.Max(step*step/12, 1e-14*total)
	lower := s[0] - centre // the lower group's sum about the mean
	for k := 2; k <= n-2; k++ {
		lower += s[k-1] - centre
		gap := s[k] - s[k-1] - step
		if gap <= 0 {
			continue
		}
		low, high := float64(k), float64(n-k)
		// The square of the score needs neither root nor division and rules out
		// most splits; where rounding could matter it is not used.
		spread := total*low*high - lower*lower*(low+high)
		if spread > 1e-6*total*low*high && gap*gap*min(low, high)*low*high*float64(n-2) < (1-1e-6)*score*score*spread {
			continue
		}
		within := total - lower*lower*(1/low+1/high)
		sd := math.Sqrt(math.Max(within/float64(n-2), least))
		if got := gap / sd * math.Sqrt(math.Min(low, high)); got > score {
			below, score = k, got
		}
	}
	return below, score
}

// resolution is the step below which differences say nothing: that of the readings,
// or the smallest gap between any two, where that is larger.
func resolution(sessions ...[]float64) float64 {
	return math.Max(stats.Resolution(sessions...), numeric.SmallestGap(numeric.Sorted(slices.Concat(sessions...))))
}
