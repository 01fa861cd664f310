package stats

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"

	"tunegate/stats/internal/numeric"
)

// Group holds the members of a family that were measured in exactly the same
// sessions of the same two sides, or in the same blocks. What a session has in
// common is in the values of all members, so whole sessions are exchanged.
// A member that lacks a session belongs to another group: no value may be
// missing.
type Group struct {
	// Before and After hold one slice a member, aligned by session over members.
	Before, After [][]float64
	// Differences hold one slice a member, aligned by block over members, instead
	// of Before and After.
	Differences [][]float64
	// Steps hold the grid that each member's readings lie on; nil or 0 means fine
	// readings. A standard error is at least step sqrt((1/m + 1/n) / 12), what
	// rounding alone adds; of n differences m is n.
	Steps []float64

	pooled bool // the variance of both sides together serves: see FamilyP
}

// minFlips is the number of blocks from which their signs are flipped: fewer
// have no assignment that is rare enough.
const minFlips = 6

// maxPermuted is how many sessions a group may have to be permuted. Beyond it
// Student's distribution is as good, and drawing takes longer than all the rest.
const maxPermuted = 1000

func (g Group) members() int { return max(len(g.Before), len(g.Differences)) }

func (g Group) step(k int) float64 {
	if k < len(g.Steps) {
		return g.Steps[k]
	}
	return 0
}

// fit returns the statistic of a member.
func (g Group) fit(k int) fit {
	if len(g.Differences) > 0 {
		return studentFit(g.Differences[k], g.step(k))
	}
	return g.sidesFit(g.Before[k], g.After[k], g.step(k))
}

// sizes returns the sessions of the sides, of n blocks 0 and n.
func (g Group) sizes() (m, n int) {
	if len(g.Differences) > 0 {
		return 0, len(g.Differences[0])
	}
	return len(g.Before[0]), len(g.After[0])
}

// sidesFit returns Welch's statistic of two sides, or the pooled one.
func (g Group) sidesFit(x, y []float64, step float64) fit {
	if g.pooled {
		return pooledFit(x, y, step)
	}
	return welchFit(x, y, step)
}

func (g Group) permutable() bool {
	m, n := g.sizes()
	if m == 0 {
		return n >= minFlips && n <= maxPermuted
	}
	return min(m, n) >= 2 && m+n <= maxPermuted
}

// check panics where the shapes of a group do not match.
func (g Group) check() {
	sides := [][][]float64{g.Before, g.After}
	if len(g.Differences) > 0 {
		sides = [][][]float64{g.Differences}
		if len(g.Before)+len(g.After) > 0 {
			panic("stats: a group of sides and of blocks")
		}
	}
	for _, side := range sides {
		if len(side) == 0 || len(side) != len(sides[0]) || g.Steps != nil && len(g.Steps) != len(side) {
			panic("stats: a group without members, or with unequal numbers of them")
		}
		for _, x := range side {
			if len(x) != len(side[0]) || slices.ContainsFunc(x, math.IsNaN) {
				panic("stats: a member of a group lacks a session")
			}
		}
	}
}

// fit is a change of means, its standard error and its degrees of freedom.
type fit struct{ change, se, df float64 }

// p is two-sided: 1 where nothing differs and where a side has fewer than two
// values, 0 where something differs without any spread.
func (f fit) p() float64 {
	switch {
	case f.change == 0 || math.IsNaN(f.se):
		return 1
	case f.se == 0:
		return 0
	}
	return 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: f.df}.CDF(-math.Abs(f.change)/f.se)
}

// nearP is p within numeric.TailError, where that is known at once.
func (f fit) nearP() (p float64, ok bool) {
	if !(f.change != 0 && f.se > 0) {
		return 0, false
	}
	return numeric.NearStudentTail(math.Abs(f.change)/f.se, f.df)
}

// unequalSizes is how far apart sizes are, as a ratio, where the spread of the
// smaller side is not trusted further than its own degrees of freedom.
const unequalSizes = 1.5

// welchFit compares two means after Welch (Biometrika 34:28-35, 1947).
func welchFit(x, y []float64, step float64) fit {
	m, n := float64(len(x)), float64(len(y))
	if min(m, n) < 2 {
		return fit{0, math.NaN(), math.NaN()}
	}
	sx, sy := numeric.Variance(x), numeric.Variance(y)
	vx, vy := sx/m, sy/n
	df := min(m, n) - 1
	noisyFew := sizesDiffer(m, n) && (m < n) == (sx > sy) && sx != sy
	if total := vx + vy; total > 0 && !noisyFew {
		df = 1 / (vx/total*(vx/total)/(m-1) + vy/total*(vy/total)/(n-1))
	}
	return fit{numeric.Mean(y) - numeric.Mean(x), math.Sqrt(math.Max(vx+vy, roundingVariance(step, m, n))), df}
}

func sizesDiffer(m, n float64) bool { return m*unequalSizes <= n || n*unequalSizes <= m }

// pooledFit compares two means of equal spreads after Student.
func pooledFit(x, y []float64, step float64) fit {
	m, n := float64(len(x)), float64(len(y))
	variance := pooledVariance(numeric.Variance(x), numeric.Variance(y), m, n)
	return fit{numeric.Mean(y) - numeric.Mean(x), math.Sqrt(math.Max(variance, roundingVariance(step, m, n))), m + n - 2}
}

// pooledVariance is that of the difference of two means of equal spreads.
func pooledVariance(first, second, m, n float64) float64 {
	return ((m-1)*first + (n-1)*second) / (m + n - 2) * (1/m + 1/n)
}

// studentFit compares the mean of differences with 0.
func studentFit(d []float64, step float64) fit {
	n := float64(len(d))
	if n < 2 {
		return fit{0, math.NaN(), math.NaN()}
	}
	return fit{numeric.Mean(d), math.Sqrt(math.Max(numeric.Variance(d)/n, roundingVariance(step, n, n))), n - 1}
}

// roundingVariance is the variance that reading in steps adds to a difference of
// two means (Sheppard).
func roundingVariance(step, m, n float64) float64 { return step * step * (1/m + 1/n) / 12 }

// WelchP returns the two-sided p of Welch's t test for equal means. Its standard
// error is at least step sqrt((1/m + 1/n) / 12); step 0 means fine readings.
// Where sizes are 1.5 or more apart and the smaller side has the larger variance,
// it has that side's size less 1 degrees of freedom; where both sides are constant
// the smaller size less 1. 1 where a side has fewer than two values and where the
// means are equal, 0 where they differ without spread or step.
func WelchP(before, after []float64, step float64) float64 { return welchFit(before, after, step).p() }

// StudentP returns the two-sided p of Student's t test for a mean of differences
// of 0, with the least standard error step sqrt(2 / (12 n)), 1 and 0 as in WelchP.
func StudentP(differences []float64, step float64) float64 { return studentFit(differences, step).p() }

// FamilyP returns the p values of all members corrected for each other, in the
// order given, by stepping down through Welch's p (Student's, on differences). The
// j-th smallest own p, p_j, becomes the sum over groups of the chance that the
// smallest p among the group's members from the j-th on is at most p_j, when
// sessions are exchanged between the sides, or signs of blocks flipped, for all
// members together (Westfall and Young 1993, algorithm 2.8; the sum is the union
// bound, which holds whatever groups have in common). All assignments where there
// are at most 20,000, else so many as draws says, drawn from the seed, with the one
// at hand counted among them (Phipson and Smyth 2010). No corrected p is below the
// one before it.
//
// Exchanging sessions assumes that sides differ in level only. Where the spreads
// of a group are seen to differ (spreadsDiffer), its chance is at least Sidak's,
// 1 - (1 - p_j)^k with k its members from the j-th on, as in Holm's method with
// Sidak's levels. Where they are not, and sizes are 1.5 or more apart, the own p is
// that of Student's pooled variance instead of Welch's: it rests on all values, where
// Welch's rests on the few. Sidak's chance alone serves for fewer than 6 blocks, and for more than 1,000
// sessions; members of all such groups count together. There nothing says how far
// chance reaches where a member has neither spread nor step: its p is 1.
//
// Everything in the groups takes a share. Members that cannot be settled at all
// are left out by the caller. Swapping the sides and reordering members or groups
// change no bit. It panics on a group whose shapes do not match or that holds NaN.
func FamilyP(groups []Group, draws int, seed uint64) [][]float64 {
	plans := assignmentPlans{seed: seed, made: map[assignmentPlan]*assignments{}}
	groups = slices.Clone(groups)
	differ := make([]bool, len(groups))
	for i := range groups {
		g := &groups[i]
		g.check()
		if g.permutable() {
			differ[i] = g.spreadsDiffer(plans)
			m, n := g.sizes()
			g.pooled = m > 0 && sizesDiffer(float64(m), float64(n)) && !differ[i]
		}
	}
	ranked := rankMembers(groups)
	own := make([]float64, len(ranked))
	for j, r := range ranked {
		own[j] = r.p
	}
	shares := make([][]float64, len(ranked)) // of each group in a corrected p
	for i, g := range groups {
		if !g.permutable() {
			continue
		}
		ranks := ranksIn(ranked, i)
		chances := plans.of(g, assignmentLimit, draws).smallestP(g, own, ranks)
		for j, chance := range chances {
			if differ[i] {
				for len(ranks) > 0 && ranks[0].rank < j {
					ranks = ranks[1:]
				}
				chance = max(chance, sidak(own[j], len(ranks)))
			}
			shares[j] = append(shares[j], chance)
		}
	}
	unpermuted := 0
	for j := len(ranked) - 1; j >= 0; j-- {
		if !groups[ranked[j].group].permutable() {
			unpermuted++
		}
		shares[j] = append(shares[j], sidak(own[j], unpermuted))
	}
	out := make([][]float64, len(groups))
	for i, g := range groups {
		out[i] = make([]float64, g.members())
	}
	top := 0.0
	for j, r := range ranked {
		slices.Sort(shares[j]) // the order of groups changes no bit
		top = max(top, min(1, numeric.Sum(shares[j])))
		out[r.group][r.member] = top
	}
	return out
}

// rankedMember is a member and its own p.
type rankedMember struct {
	group, member int
	p             float64
}

// rankMembers orders all members by their own p.
func rankMembers(groups []Group) []rankedMember {
	var out []rankedMember
	for i, g := range groups {
		for k := range g.members() {
			f := g.fit(k)
			p := f.p()
			if f.se == 0 && !g.permutable() {
				p = 1
			}
			out = append(out, rankedMember{i, k, p})
		}
	}
	slices.SortStableFunc(out, func(a, b rankedMember) int { return cmp.Compare(a.p, b.p) })
	return out
}

// rankOf is where a member of a group stands in the family.
type rankOf struct{ rank, member int }

func ranksIn(ranked []rankedMember, group int) (out []rankOf) {
	for j, r := range ranked {
		if r.group == group {
			out = append(out, rankOf{j, r.member})
		}
	}
	return out
}

// sidak is the chance that the smallest of k independent p is at most p, an upper
// bound for normal ones whatever their correlations (Sidak, JASA 62:626-633, 1967).
func sidak(p float64, k int) float64 {
	if k == 0 {
		return 0
	}
	return -math.Expm1(float64(k) * math.Log1p(-p))
}

// SidakLevel returns the p that one of k members has to reach on its own for the
// chance that any does to be alpha: 1 - (1 - alpha)^(1/k). In normal noise of equal
// spreads it is also where FamilyP reaches alpha for the smallest of k unrelated
// members, up to the coarseness of MinFamilyP.
func SidakLevel(alpha float64, k int) float64 { return -math.Expm1(math.Log1p(-alpha) / float64(k)) }

// MinFamilyP returns the smallest p that FamilyP can give a member of a group of m
// and n sessions, however many members the family has: only the assignment at
// hand and, with sides of equal size, its mirror reach the smallest p. 0 where
// nothing is permuted: Welch's p has no least value.
func MinFamilyP(m, n, draws int) float64 {
	g := Group{Before: [][]float64{make([]float64, m)}, After: [][]float64{make([]float64, n)}}
	if !g.permutable() {
		return 0
	}
	count := numeric.Choose(m+n, m)
	switch {
	case count > assignmentLimit:
		return 1 / float64(draws+1)
	case m == n:
		return 2 / count
	}
	return 1 / count
}

// MinFamilyPOfBlocks is MinFamilyP for a group of n blocks.
func MinFamilyPOfBlocks(n, draws int) float64 {
	switch {
	case n < minFlips || n > maxPermuted:
		return 0
	case math.Ldexp(1, n) > assignmentLimit:
		return 1 / float64(draws+1)
	}
	return math.Ldexp(2, -n)
}
