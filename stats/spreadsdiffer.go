package stats

import (
	"math"
	"slices"

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
	// Logarithms are taken of products of a few ratios.
	const few = 8
	parts := make([][]float64, (g.members()+few-1)/few)
	numeric.OnAllCores(len(parts), func(part int) {
		sums, squares := make([]float64, a.count), make([]float64, a.count)
		of := slices.Repeat([]float64{1}, a.count+1)
		for k := part * few; k < min(g.members(), part*few+few); k++ {
			x := newPermutedMember(residuals, k, flip)
			a.addUp(x.scaled, 0, a.count, sums)
			a.addUp(x.squares, 0, a.count, squares)
			for b, sum := range sums {
				of[b] *= x.ratio(sum, squares[b])
			}
			of[a.count] *= x.ratio(numeric.Sum(x.scaled[:x.m]), numeric.Sum(x.squares[:x.m]))
		}
		for b, product := range of {
			of[b] = math.Log(product)
		}
		parts[part] = of
	})
	totals := make([]float64, a.count+1)
	for _, of := range parts {
		for b := range totals {
			totals[b] += of[b]
		}
	}
	totals, seen := totals[:a.count], totals[a.count]
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

// ratio is that of the larger of the sides' variances to the smaller.
func (x *permutedMember) ratio(sum, squares float64) float64 {
	first, second := x.variances(sum, squares)
	least := 0.01 * x.total / float64(len(x.scaled)-1)
	if least == 0 {
		return 1
	}
	first, second = math.Max(first, 0)+least, math.Max(second, 0)+least
	return math.Max(first/second, second/first)
}
