package stats

import (
	"math"
	"slices"

	"tunegate/stats/internal/numeric"
)

// SimultaneousIntervals returns intervals of the changes of all members, in the
// order given, that hold for all of them at once with this confidence, so that any
// of them may be picked afterwards: the Hodges-Lehmann estimate plus and minus c
// times Welch's standard error. Of n differences it is the Walsh estimate and
// Student's, below 6 their mean.
//
// c is the quantile of the group's largest |t| when sessions are exchanged between
// the sides, or signs of blocks flipped, of values centred on the mean of each side
// (single-step max |t| of Westfall and Young 1993, chapter 2). Assignments are those
// of FamilyP. Of the whole error 1 - confidence a
// group of k of K members has 1 - confidence^(k/K), the union bound in Sidak's form:
// as if each member had its own equal part.
//
// A member's c is Student's quantile on its own degrees of freedom at Sidak's level
// where the group has too few assignments for its part, and at least that where the
// spreads of the group are seen to differ, as in FamilyP. It is never below that of
// a single member. Ends are NaN where a side has fewer than two values, and where
// there is neither spread nor step.
func SimultaneousIntervals(groups []Group, confidence float64, draws int, seed uint64) [][]Interval {
	total := 0
	for _, g := range groups {
		g.check()
		total += g.members()
	}
	level := SidakLevel(1-confidence, total)
	plans := assignmentPlans{seed: seed, made: map[assignmentPlan]*assignments{}}
	out := make([][]Interval, len(groups))
	for i, g := range groups {
		c, ok := g.criticalT(plans, -math.Expm1(float64(g.members())/float64(total)*math.Log(confidence)), draws)
		alone := !ok || g.spreadsDiffer(plans)
		out[i] = make([]Interval, g.members())
		for k := range out[i] {
			f := g.fit(k)
			if !(f.se > 0) {
				out[i][k] = Interval{Lo: math.NaN(), Hi: math.NaN()}
				continue
			}
			reach := max(c, numeric.StudentQuantile((1+confidence)/2, f.df))
			if alone {
				reach = max(reach, numeric.StudentQuantile(1-level/2, f.df))
			}
			centre := g.estimate(k)
			out[i][k] = Interval{Lo: centre - reach*f.se, Hi: centre + reach*f.se}
		}
	}
	return out
}

// estimate is the change that a member's interval is centred on.
func (g Group) estimate(k int) float64 {
	switch {
	case len(g.Differences) == 0:
		return HodgesLehmann(g.Before[k], g.After[k])
	case len(g.Differences[k]) < minFlips:
		return numeric.Mean(g.Differences[k])
	}
	return WalshMedian(g.Differences[k])
}

// criticalT returns the value that the group's largest |t| exceeds with at most
// this chance; ok is false where nothing is permuted or where there are too few
// assignments.
func (g Group) criticalT(plans assignmentPlans, alpha float64, draws int) (c float64, ok bool) {
	if !g.permutable() {
		return 0, false
	}
	a := plans.of(g, assignmentLimit, draws)
	above := int(math.Floor(alpha*float64(a.count) + numeric.Slack))
	if above < 1 {
		return 0, false
	}
	largest := a.largestT(g.centred(), g.swapped())
	slices.Sort(largest)
	return largest[len(largest)-1-above], true
}

// centred takes the means of the sides out.
func (g Group) centred() Group {
	out := Group{Steps: g.Steps}
	all := func(in [][]float64) (out [][]float64) {
		for _, x := range in {
			mean := numeric.Mean(x)
			centred := make([]float64, len(x))
			for i, v := range x {
				centred[i] = v - mean
			}
			out = append(out, centred)
		}
		return out
	}
	out.Before, out.After, out.Differences = all(g.Before), all(g.After), all(g.Differences)
	return out
}

// largestT returns the largest |t| among the members in each assignment.
func (a *assignments) largestT(g Group, swap bool) []float64 {
	out := make([]float64, a.count)
	parts := (a.count + partSize - 1) / partSize
	numeric.OnAllCores(parts, func(part int) {
		from, to := part*partSize, min(a.count, (part+1)*partSize)
		sums, squares := make([]float64, to-from), make([]float64, to-from)
		for k := range g.members() {
			x := newPermutedMember(g, k, swap)
			a.addUp(x.scaled, from, to, sums)
			a.addUp(x.squares, from, to, squares)
			for b, sum := range sums {
				if change, variance := x.squared(sum, squares[b]); variance > 0 {
					out[from+b] = max(out[from+b], change/variance)
				}
			}
		}
	})
	for b, squared := range out {
		out[b] = math.Sqrt(squared)
	}
	return out
}
