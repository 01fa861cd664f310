package stats

import (
	"math"

	"tunegate/stats/internal/numeric"
)

// The test of spreads is liberal, since missing a difference costs false alarms and
// seeing one too many only some power.
const (
	spreadLevel = 0.25
	spreadDraws = 1000
	minSpread   = 4 // sessions a side; fewer show too little of their spread
)

// spreadsDiffer tests whether the sides of a group spread alike, by exchanging
// whole sessions of the members' residuals about their sides' means. The statistic
// is the sum over members of |ln of the ratio of variances|, each variance with a
// hundredth of the pooled one added so that constant sides stay finite; residuals
// are scaled up for the degree of freedom that each mean took. A group is said to
// differ where its p is at most 0.25, and always with fewer than 4 sessions on a
// side. Signs of differences stand for no sides, so blocks never differ.
func (g Group) spreadsDiffer(plans assignmentPlans) bool {
	m, n := g.sizes()
	if m == 0 {
		return false
	}
	if min(m, n) < minSpread {
		return true
	}
	a := plans.of(g, spreadDraws, spreadDraws)
	flip := g.swapped()
	residuals := Group{}
	for k := range g.Before {
		residuals.Before = append(residuals.Before, residualsOf(g.Before[k]))
		residuals.After = append(residuals.After, residualsOf(g.After[k]))
	}
	seen := 0.0
	totals := make([]float64, a.count)
	parts := make([][]float64, g.members())
	numeric.OnAllCores(g.members(), func(k int) {
		x := newPermutedMember(residuals, k, flip)
		sums, squares := make([]float64, a.count), make([]float64, a.count)
		a.addUp(x.scaled, 0, a.count, sums)
		a.addUp(x.squares, 0, a.count, squares)
		for b, sum := range sums {
			sums[b] = x.logRatio(sum, squares[b])
		}
		parts[k] = append(sums, x.logRatio(numeric.Sum(x.scaled[:x.m]), numeric.Sum(x.squares[:x.m])))
	})
	for _, of := range parts {
		for b := range totals {
			totals[b] += of[b]
		}
		seen += of[a.count]
	}
	extreme := 0
	for _, total := range totals {
		if total >= seen*nearlyBelow {
			extreme++
		}
	}
	return float64(extreme) <= spreadLevel*float64(a.count)
}

// residualsOf returns what is left of values without their mean.
func residualsOf(x []float64) []float64 {
	mean, n := numeric.Mean(x), float64(len(x))
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = (v - mean) * math.Sqrt(n/(n-1))
	}
	return out
}

// logRatio is the absolute logarithm of the ratio of the sides' variances.
func (x *permutedMember) logRatio(sum, squares float64) float64 {
	first, second := x.variances(sum, squares)
	least := 0.01 * x.total / float64(len(x.scaled)-1)
	if least == 0 {
		return 0
	}
	return math.Abs(math.Log((math.Max(first, 0) + least) / (math.Max(second, 0) + least)))
}
