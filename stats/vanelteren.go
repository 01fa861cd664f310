package stats

import (
	"cmp"
	"math"
	"slices"

	"tunegate/stats/internal/numeric"
)

// Stratum is one block: the values of both sides measured in it.
type Stratum struct{ Before, After []float64 }

// StratifiedTest is the outcome of van Elteren's test.
type StratifiedTest struct {
	T     float64 // sum over strata of U_b / (m_b n_b); half their number when nothing changed
	P     float64 // two-sided: P(|T - B/2| >= |t - B/2|) given the ties
	PUsed float64 // the larger of P and twice the smaller tail, at most 1
	Exact bool
}

const (
	// latticeLimit bounds the cells of an exact stratified distribution.
	latticeLimit = 4_000_000
	// convolutionLimit bounds the multiplications it takes: a tenth of a second.
	convolutionLimit = 2.5e8
)

// VanElteren is the stratified rank test (van Elteren 1960) with his
// design-free weights 1/(m_b n_b), so that every stratum counts the same: only
// values of one stratum are compared. The distribution is that of all
// assignments within strata given the ties, by convolution; normal where that
// is too large. It panics when there is no stratum or a side of one is empty.
func VanElteren(strata []Stratum) StratifiedTest {
	if len(strata) == 0 {
		panic("stats: stratified test of no strata")
	}
	all := make([]groups, len(strata))
	for b, s := range strata {
		all[b] = tieGroups(s.Before, s.After)
	}
	t := StratifiedTest{}
	unit, fits := latticeOf(all, 2)
	if !fits {
		variance := 0.0
		for _, g := range all {
			mn := float64(g.m) * float64(g.n)
			t.T += float64(g.doubledU()) / 2 / mn
			variance += g.nullVariance() / (mn * mn)
		}
		if variance > 0 {
			t.P = math.Erfc(math.Abs(t.T-float64(len(all))/2) / math.Sqrt(variance) / math.Sqrt2)
		} else {
			t.P = 1
		}
		t.PUsed = t.P
		return t
	}
	count, at := []float64{1}, 0
	for _, g := range all {
		step := unit / (2 * g.m * g.n)
		at += g.doubledU() * step
		count = numeric.Convolve(count, g.permutationCounts(), step)
	}
	t.T, t.Exact = float64(at)/float64(unit), true
	centre := len(all) * unit // of twice the statistic
	var total, lower, upper, extreme float64
	for v, c := range count {
		total += c
		if v <= at {
			lower += c
		}
		if v >= at {
			upper += c
		}
		if numeric.Abs(2*v-centre) >= numeric.Abs(2*at-centre) {
			extreme += c
		}
	}
	t.P = math.Min(1, extreme/total)
	t.PUsed = math.Max(t.P, math.Min(1, 2*math.Min(lower, upper)/total))
	return t
}

// latticeOf returns the smallest whole number into which factor*m*n of every
// stratum divides, and whether the exact distribution on it is small enough.
func latticeOf(all []groups, factor int) (unit int, fits bool) {
	unit = 1
	work := 0.0
	for b, g := range all {
		mn := factor * g.m * g.n
		unit = unit / gcd(unit, mn) * mn
		if unit*len(all) > latticeLimit || !exactFeasible(g.m, g.n, true) {
			return 0, false
		}
		work += float64(b) * float64(mn) // times the unit, cells so far by counts
	}
	return unit, work*float64(unit) <= convolutionLimit
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// SmallestStratifiedP is the smallest two-sided p that untied values in strata
// of these sizes can reach: 2 over the product of C(m_b+n_b, m_b).
func SmallestStratifiedP(strata []Stratum) float64 {
	p := 2.0
	for _, s := range strata {
		p /= numeric.Choose(len(s.Before)+len(s.After), len(s.Before))
	}
	return math.Min(1, p)
}

// StratifiedMedian returns the estimate that belongs to VanElteren: the median
// of the differences after - before within strata, each stratum weighing the
// same.
func StratifiedMedian(strata []Stratum) float64 {
	d, unit := withinDifferences(strata)
	half, near, sum := unit*float64(len(strata))/2, unit*numeric.Slack, 0.0
	for k, v := range d {
		sum += v.weight
		if sum > half-near {
			if sum < half+near && k+1 < len(d) {
				return numeric.Mid(v.d, d[k+1].d)
			}
			return v.d
		}
	}
	return math.NaN()
}

// StratifiedInterval inverts VanElteren's test without ties. ok is false where
// no shift can be rejected: below three strata of two and two values at 95 %.
func StratifiedInterval(strata []Stratum, confidence float64) (lo, hi float64, ok bool) {
	critical, ok := StratifiedCritical(strata, 1-confidence)
	if !ok {
		return math.NaN(), math.NaN(), false
	}
	d, unit := withinDifferences(strata)
	end := func(next func(k int) weighted) float64 {
		sum := 0.0
		for k := range d {
			v := next(k)
			if sum += v.weight; sum > unit*(critical-numeric.Slack) {
				return v.d
			}
		}
		return math.NaN()
	}
	return end(func(k int) weighted { return d[k] }), end(func(k int) weighted { return d[len(d)-1-k] }), true
}

// StratifiedCritical is the smallest value of T, without ties, that is not
// rejected from below.
func StratifiedCritical(strata []Stratum, alpha float64) (t float64, ok bool) {
	if len(strata) == 0 || SmallestStratifiedP(strata) > alpha+numeric.Slack {
		return 0, false
	}
	all := make([]groups, len(strata))
	variance := 0.0
	for b, s := range strata {
		all[b] = groups{m: len(s.Before), n: len(s.After)}
		variance += float64(all[b].m+all[b].n+1) / float64(12*all[b].m*all[b].n)
	}
	unit, fits := latticeOf(all, 1)
	if !fits {
		return float64(len(all))/2 - numeric.NormalQuantile(1-alpha/2)*math.Sqrt(variance), true
	}
	count := []float64{1}
	for _, g := range all {
		count = numeric.Convolve(count, numeric.UntiedCounts(g.m, g.n), unit/(g.m*g.n))
	}
	return float64(criticalCount(count, alpha)) / float64(unit), true
}

type weighted struct{ d, weight float64 }

// wholeWeights is the largest unit for which weights are whole numbers, whose
// sums are exact and well apart on the scale of slack.
const wholeWeights = 1e9

// withinDifferences lists after - before of each stratum in ascending order,
// with weights that sum to the unit per stratum.
func withinDifferences(strata []Stratum) (d []weighted, unit float64) {
	whole := 1
	for _, s := range strata {
		mn := len(s.Before) * len(s.After)
		if whole = whole / gcd(whole, mn) * mn; float64(whole) > wholeWeights {
			whole = 1
			break
		}
	}
	for _, s := range strata {
		weight := float64(whole) / float64(len(s.Before)*len(s.After))
		for _, x := range s.Before {
			for _, y := range s.After {
				d = append(d, weighted{y - x, weight})
			}
		}
	}
	slices.SortFunc(d, func(a, b weighted) int { return cmp.Compare(a.d, b.d) })
	return d, float64(whole)
}
