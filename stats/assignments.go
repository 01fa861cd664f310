package stats

import (
	"cmp"
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"tunegate/stats/internal/numeric"
)

// assignments are ways to give the sessions of a group to its sides, or signs to
// its blocks: one bit a session, set where it counts to the first side, or where a
// block keeps its sign. The first is the one at hand.
type assignments struct {
	m, n  int // sessions of the sides, the smaller first; m is 0 for n blocks
	count int
	masks [][]byte // of eight sessions each: a byte an assignment
	// bounds tabulate the p of t with the most degrees of freedom that a group of such
	// sizes can have, and widest with the fewest; nil until a p is looked for.
	bounds, widest []tailBound
}

// assignmentPlans makes the assignments of groups, once for all of the same size,
// so that they do not depend on where a group stands.
type assignmentPlans struct {
	seed uint64
	made map[assignmentPlan]*assignments
}

type assignmentPlan struct{ m, n, limit, draws int }

func (a assignmentPlans) of(g Group, limit, draws int) *assignments {
	m, n := g.sizes()
	key := assignmentPlan{min(m, n), max(m, n), limit, draws}
	if a.made[key] == nil {
		a.made[key] = newAssignments(key, a.seed)
	}
	return a.made[key]
}

// newAssignments lists all assignments where there are at most so many as the
// limit, of mirrored ones, which have the same p, one; else it draws.
func newAssignments(plan assignmentPlan, seed uint64) *assignments {
	m, n := plan.m, plan.n
	sessions := m + n
	a := &assignments{m: m, n: n, masks: make([][]byte, (sessions+7)/8)}
	blocks := m == 0
	all := numeric.Choose(sessions, m)
	if blocks {
		all = math.Ldexp(1, n)
	}
	chosen := make([]bool, sessions)
	add := func() {
		for c := range a.masks {
			a.masks[c] = append(a.masks[c], 0)
		}
		for i, c := range chosen {
			if c {
				a.masks[i/8][a.count] |= 1 << (i % 8)
			}
		}
		a.count++
	}
	switch {
	case all > float64(plan.limit):
		for i := range chosen {
			chosen[i] = blocks || i < m
		}
		add()
		a.draw(plan.draws, rand.NewPCG(seed, 4))
	case blocks:
		for flips := range 1 << (n - 1) { // the first block keeps its sign
			for i := range chosen {
				chosen[i] = i == 0 || flips>>(i-1)&1 == 0
			}
			add()
		}
	case m == n:
		chosen[0] = true // the first session stays on its side
		eachAssignment(chosen[1:], m-1, add)
	default:
		eachAssignment(chosen, m, add)
	}
	return a
}

// draw adds so many assignments: signs as they fall, or m of all sessions (by Floyd:
// Bentley, Communications of the ACM 30:754-757, 1987). A 64-bit number serves two draws,
// as in drawCounts.
func (a *assignments) draw(draws int, g *rand.PCG) {
	for c := range a.masks {
		a.masks[c] = append(a.masks[c], make([]byte, draws)...)
	}
	chosen := make([]uint64, (a.m+a.n+63)/64)
	for range draws {
		clear(chosen)
		if a.m == 0 {
			for w := range chosen {
				chosen[w] = g.Uint64()
			}
		}
		random := uint64(0)
		for k := range a.m {
			if random >>= 32; k%2 == 0 {
				random = g.Uint64()
			}
			last := uint64(a.n + k)
			i := random & 0xffffffff * (last + 1) >> 32
			if chosen[i/64]>>(i%64)&1 == 1 {
				i = last
			}
			chosen[i/64] |= 1 << (i % 64)
		}
		for c := range a.masks {
			a.masks[c][a.count] = byte(chosen[c/8] >> (8 * (c % 8)))
		}
		a.count++
	}
}

// addUp sums, of each assignment from one to another, the values of what it chooses.
func (a *assignments) addUp(values []float64, from, to int, out []float64) {
	clear(out)
	var table [256]float64 // the sums of all choices among eight
	for c, masks := range a.masks {
		eight := values[8*c : min(8*c+8, len(values))]
		for mask := 1; mask < 256; mask++ {
			table[mask] = table[mask&(mask-1)]
			if i := bits.TrailingZeros8(uint8(mask)); i < len(eight) {
				table[mask] += eight[i]
			}
		}
		for k, mask := range masks[from:to] {
			out[k] += table[mask]
		}
	}
}

// tailBound is a statistic and its two-sided p.
type tailBound struct{ p, t float64 }

// tailBounds tabulates Student's two-sided p, from 1 downwards.
func tailBounds(df float64) []tailBound {
	out := []tailBound{{1, 0}}
	student := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}
	for t := 0.02; t < 1000; t *= 1.02 {
		p := 2 * student.CDF(-t)
		if p < 1e-300 { // a p that underflows has no bound of its own
			break
		}
		out = append(out, tailBound{p, t})
	}
	return out
}

// tabulate fills in bounds and widest.
func (a *assignments) tabulate() {
	switch {
	case a.bounds != nil:
	case a.m == 0:
		a.bounds = tailBounds(float64(a.n - 1))
		a.widest = a.bounds
	default:
		a.bounds, a.widest = tailBounds(float64(a.m+a.n-2)), tailBounds(float64(a.m-1))
	}
}

// leastT returns a bound that |t| has to reach for a p of at most that, whatever
// its degrees of freedom are.
func (a *assignments) leastT(p float64) float64 {
	k := sort.Search(len(a.bounds), func(i int) bool { return a.bounds[i].p < p })
	return a.bounds[max(0, k-1)].t
}

// enoughT returns a bound from which p is at most that, whatever the degrees of freedom.
func (a *assignments) enoughT(p float64) float64 {
	k := sort.Search(len(a.widest), func(i int) bool { return a.widest[i].p <= p })
	if k == len(a.widest) {
		return math.Inf(1)
	}
	return a.widest[k].t
}

// nearP is by how much, as a share, equal p may differ by rounding.
const nearP = 1e-9

// partSize is how many assignments are walked through at a time.
const partSize = 2048

// smallestP returns for each rank j of the family the share of the assignments in
// which the smallest p among the group's members from rank j on is at most own[j].
func (a *assignments) smallestP(g Group, own []float64, ranks []rankOf) []float64 {
	members := make([]*permutedMember, len(ranks))
	flip := g.swapped()
	for i, r := range ranks {
		members[i] = newPermutedMember(g, r.member, flip)
	}
	a.tabulate()
	parts := (a.count + partSize - 1) / partSize
	counts := make([][]int, parts)
	numeric.OnAllCores(parts, func(part int) {
		counts[part] = a.countPart(members, own, ranks, part*partSize, min(a.count, (part+1)*partSize))
	})
	out := make([]float64, len(own))
	for i, r := range ranks { // a count at a rank holds up to the group's member after it
		from := 0
		if i > 0 {
			from = ranks[i-1].rank + 1
		}
		sum := 0
		for j := from; j <= r.rank; j++ {
			for part := range counts {
				sum += counts[part][j]
			}
			out[j] = float64(sum) / float64(a.count)
		}
	}
	return out
}

// countPart walks from the least significant member to the most. It keeps the rank of
// the smallest own p that the smallest p of each assignment so far is at most, and works
// out a p only where bounds of t do not tell that rank.
func (a *assignments) countPart(members []*permutedMember, own []float64, ranks []rankOf, from, to int) []int {
	counts := make([]int, len(own))
	rankOfP := func(p float64, ranks int) int {
		return sort.Search(ranks, func(j int) bool { return p <= own[j]*(1+nearP) })
	}
	rankOfFit := func(f fit, ranks int) int {
		if p, ok := f.nearP(); ok {
			j := rankOfP(p*(1-numeric.TailError), ranks)
			if j == rankOfP(p*(1+numeric.TailError), ranks) {
				return j
			}
		}
		return rankOfP(f.p(), ranks)
	}
	least, enough := make([]float64, len(own)), make([]float64, len(own)) // of |t| for a p of at most own, as reaches
	for j, p := range own {
		least[j] = members[0].reach(a.leastT(p*(1+nearP))) * nearlyBelow
		enough[j] = members[0].reach(a.enoughT(p)) / nearlyBelow
	}
	reached := slices.Repeat([]int{len(own)}, to-from)
	size, squares := make([]float64, to-from), make([]float64, to-from)
	buffer := make([]float64, a.m+a.n)
	for i := len(members) - 1; i >= 0; i-- {
		x, rank := members[i], ranks[i].rank
		start := 0
		if i > 0 {
			start = ranks[i-1].rank + 1
		}
		x.sizes(a, from, to, size, squares)
		for k, size := range size {
			if up := min(reached[k], rank+1); up > 0 && size >= least[up-1] {
				j := up
				if !x.coarse() && !math.IsInf(size, 1) {
					j = sort.Search(up, func(j int) bool { return size >= enough[j] })
				}
				if j > 0 && size >= least[j-1] {
					j = min(j, rankOfFit(x.fit(a, from+k, buffer), up))
				}
				if j < up {
					reached[k] = j
				}
			}
			if reached[k] <= rank {
				counts[max(start, reached[k])]++
			}
		}
	}
	return counts
}

// permutedMember is one member with its sides in the group's order.
type permutedMember struct {
	values     []float64 // the first side, then the second; or differences
	m          int       // 0 for differences
	group      Group     // for its statistic
	step       float64
	scaled     []float64 // centred, with squares that add up to 1, or all 0
	squares    []float64
	all, total float64    // the sums of both
	bySum      bool       // the sum of the first side alone gives t, or nearly
	minSquared float64    // of the scaled standard error
	inverse    [4]float64 // of the sizes m and n, and of m - 1 and n - 1
}

func newPermutedMember(g Group, k int, swap bool) *permutedMember {
	x := &permutedMember{group: g, step: g.step(k), bySum: true}
	centre := 0.0
	if len(g.Differences) > 0 {
		x.values = g.Differences[k]
	} else {
		first, second := g.Before[k], g.After[k]
		if swap {
			first, second = second, first
		}
		x.values, x.m = slices.Concat(first, second), len(first)
		x.bySum = g.pooled || len(first) == len(second)
		centre = numeric.Mean(x.values)
	}
	largest := 0.0
	for _, v := range x.values {
		largest = math.Max(largest, math.Abs(v-centre))
	}
	length := 0.0
	for _, v := range x.values {
		z := (v - centre) / cmp.Or(largest, 1)
		length += z * z
	}
	length = cmp.Or(largest*math.Sqrt(length), 1)
	x.scaled, x.squares = make([]float64, len(x.values)), make([]float64, len(x.values))
	for i, v := range x.values {
		z := (v - centre) / length
		x.scaled[i], x.squares[i] = z, z*z
		x.all, x.total = x.all+z, x.total+z*z
	}
	m, n := float64(x.m), float64(len(x.values)-x.m)
	if x.m == 0 {
		m = n
	} else {
		x.inverse = [4]float64{1 / m, 1 / n, 1 / (m - 1), 1 / (n - 1)}
	}
	x.minSquared = roundingVariance(x.step/length, m, n)
	return x
}

// nearlyBelow keeps a statistic that equals its bound from lying below it by
// rounding.
const nearlyBelow = 1 - 1e-6

// reach is what the sum of a side has to differ by from its expectation for |t| to
// reach a value, rounding left aside: t^2 = df r^2 / (1 - r^2) where r^2 is the share of
// the squares that the difference of means has. Where the sum alone does not give t,
// it is the square of t.
func (x *permutedMember) reach(t float64) float64 {
	n := float64(len(x.scaled))
	switch {
	case !x.bySum:
		return t * t
	case x.m == 0:
		return math.Sqrt(n/(1+(n-1)/(t*t))) / 2
	}
	return math.Sqrt(1 / (1 + (n-2)/(t*t)) / (x.inverse[0] + x.inverse[1]))
}

// sizes says, of each assignment from one to another, what is compared with reach.
func (x *permutedMember) sizes(a *assignments, from, to int, size, squares []float64) {
	a.addUp(x.scaled, from, to, size)
	if x.bySum {
		expected := x.expected()
		for k, sum := range size {
			size[k] = math.Abs(sum - expected)
		}
		return
	}
	a.addUp(x.squares, from, to, squares)
	for k, sum := range size {
		if change, variance := x.squared(sum, squares[k]); variance > 0 {
			size[k] = change / variance
		} else {
			size[k] = math.Inf(1)
		}
	}
}

// coarse reports whether the least standard error of readings in steps may serve, so that
// t is smaller than the sums alone say.
func (x *permutedMember) coarse() bool { return x.bySum && x.minSquared > 0 }

// expected is the sum of the first side if all had their part, of blocks half.
func (x *permutedMember) expected() float64 {
	if x.m == 0 {
		return x.all / 2
	}
	return x.all * float64(x.m) / float64(len(x.scaled))
}

// squared returns the squares of the scaled change and of its standard error from the
// sums of the first side, or of the blocks that keep their sign.
func (x *permutedMember) squared(sum, squares float64) (change, variance float64) {
	if x.m == 0 {
		n := float64(len(x.values))
		signed := 2*sum - x.all
		return signed * signed / (n * n), max((x.total-signed*signed/n)/(n*(n-1)), x.minSquared)
	}
	change = sum*x.inverse[0] - (x.all-sum)*x.inverse[1]
	first, second := x.variances(sum, squares)
	variance = first*x.inverse[0] + second*x.inverse[1]
	if x.group.pooled {
		variance = pooledVariance(first, second, float64(x.m), float64(len(x.values)-x.m))
	}
	return change * change, max(variance, x.minSquared)
}

// variances returns those of both sides, scaled.
func (x *permutedMember) variances(sum, squares float64) (first, second float64) {
	rest := x.all - sum
	first = (squares - sum*sum*x.inverse[0]) * x.inverse[2]
	second = (x.total - squares - rest*rest*x.inverse[1]) * x.inverse[3]
	return first, second
}

// fit works out the statistic of an assignment by the formula of the one at hand.
func (x *permutedMember) fit(a *assignments, b int, buffer []float64) fit {
	first, second := 0, x.m
	for c, masks := range a.masks {
		mask := masks[b]
		for _, v := range x.values[8*c : min(8*c+8, len(x.values))] {
			switch {
			case x.m == 0 && mask&1 == 0:
				buffer[second] = -v
				second++
			case x.m == 0 || mask&1 == 0:
				buffer[second] = v
				second++
			default:
				buffer[first] = v
				first++
			}
			mask >>= 1
		}
	}
	if x.m == 0 {
		return studentFit(buffer, x.step)
	}
	return x.group.sidesFit(buffer[:x.m], buffer[x.m:], x.step)
}

// swapped reports whether After comes first: the smaller side, else the one that
// the values of all members choose, so that swapping the sides and reordering the
// members change no draw.
func (g Group) swapped() bool {
	if m, n := g.sizes(); m != n || m == 0 {
		return m > n
	}
	hash := func(x, y []float64) uint64 { // as Fowler, Noll and Vo
		h := uint64(14695981039346656037)
		for _, v := range slices.Concat(x, y) {
			h = bits.RotateLeft64((h^math.Float64bits(v))*1099511628211, 29)
		}
		return h
	}
	var before, after uint64
	for k := range g.Before {
		before += hash(g.Before[k], g.After[k])
		after += hash(g.After[k], g.Before[k])
	}
	return before > after
}

// assignmentLimit bounds the assignments to sides that are enumerated.
const assignmentLimit = 20_000

// eachAssignment calls visit with every way of marking k places.
func eachAssignment(marked []bool, k int, visit func()) {
	clear(marked)
	var place func(from, left int)
	place = func(from, left int) {
		if left == 0 {
			visit()
			return
		}
		for i := from; i <= len(marked)-left; i++ {
			marked[i] = true
			place(i+1, left-1)
			marked[i] = false
		}
	}
	place(0, k)
}
