package stats

import (
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
	m, n   int // sessions of the sides, the smaller first; m is 0 for n blocks
	bytes  int // of one assignment
	masks  []byte
	count  int
	bounds []tailBound
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
	a := &assignments{m: m, n: n, bytes: (sessions + 7) / 8}
	chosen := make([]bool, sessions)
	add := func() {
		from := len(a.masks)
		a.masks = append(a.masks, make([]byte, a.bytes)...)
		for i, c := range chosen {
			if c {
				a.masks[from+i/8] |= 1 << (i % 8)
			}
		}
		a.count++
	}
	df := sessions - 2
	blocks := m == 0
	all := numeric.Choose(sessions, m)
	if blocks {
		df, all = n-1, math.Ldexp(1, n)
	}
	a.bounds = tailBounds(float64(df))
	for i := range chosen {
		chosen[i] = blocks || i < m
	}
	g := rand.New(rand.NewPCG(seed, 4))
	switch {
	case all > float64(plan.limit):
		add()
		for range plan.draws {
			if blocks {
				for i := range chosen {
					chosen[i] = g.Uint64()&1 == 0
				}
			} else {
				g.Shuffle(sessions, func(i, j int) { chosen[i], chosen[j] = chosen[j], chosen[i] })
			}
			add()
		}
	case blocks:
		for flips := range 1 << (n - 1) { // the first block keeps its sign
			for i := range chosen {
				chosen[i] = i == 0 || flips>>(i-1)&1 == 0
			}
			add()
		}
	case m == n:
		eachAssignment(chosen[1:], m-1, add) // the first session stays on its side
	default:
		eachAssignment(chosen, m, add)
	}
	return a
}

// tailBound is a statistic and its two-sided p.
type tailBound struct{ p, t float64 }

// tailBounds tabulates Student's two-sided p, from 1 downwards.
func tailBounds(df float64) []tailBound {
	out := []tailBound{{1, 0}}
	student := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}
	for t := 0.02; t < 1000; t *= 1.01 {
		p := 2 * student.CDF(-t)
		if p < 1e-300 { // a p that underflows has no bound of its own
			break
		}
		out = append(out, tailBound{p, t})
	}
	return out
}

// leastT returns a bound that |t| has to reach for a p of at most that, whatever
// its degrees of freedom are: the table has the most that a group can have.
func (a *assignments) leastT(p float64) float64 {
	k := sort.Search(len(a.bounds), func(i int) bool { return a.bounds[i].p < p })
	return a.bounds[max(0, k-1)].t
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

// countPart walks from the least significant member to the most. It keeps the
// smallest p so far of each assignment, and works out a p only where the sums
// say that it may be smaller than that and than the member's own.
func (a *assignments) countPart(members []*permutedMember, own []float64, ranks []rankOf, from, to int) []int {
	counts := make([]int, len(own))
	least := slices.Repeat([]float64{2}, to-from) // the smallest p, and
	reach := make([]float64, to-from)             // the square of what |t| needs to get below it
	buffer := make([]float64, a.m+a.n)
	tables := make([][256]sums, a.bytes)
	for i := len(members) - 1; i >= 0; i-- {
		x, rank := members[i], ranks[i].rank
		start := 0
		if i > 0 {
			start = ranks[i-1].rank + 1
		}
		limit := own[rank] * (1 + nearP)
		t := a.leastT(limit)
		required := t * t
		x.fill(tables)
		for b := from; b < to; b++ {
			k := b - from
			mask := a.mask(b)
			s := sumsOf(tables, mask)
			if !x.below(s, max(required, reach[k])) {
				if p := x.p(mask, buffer); p < least[k] && p <= limit {
					least[k] = p
					t := a.leastT(p)
					reach[k] = t * t
				}
			}
			if least[k] <= limit {
				counts[start+sort.Search(rank-start, func(j int) bool { return least[k] <= own[start+j]*(1+nearP) })]++
			}
		}
	}
	return counts
}

func (a *assignments) mask(b int) []byte { return a.masks[b*a.bytes : (b+1)*a.bytes] }

// sums are those of the values on the first side, or with their sign kept.
type sums struct{ sum, squares float64 }

// permutedMember is one member with its sides in the group's order.
type permutedMember struct {
	values     []float64 // the first side, then the second; or differences
	m          int       // 0 for differences
	step       float64
	scaled     []float64  // centred and within -1 and 1
	all        sums       // of the scaled values
	minSquared float64    // of the scaled standard error
	inverse    [4]float64 // of the sizes m and n, and of m - 1 and n - 1
}

func newPermutedMember(g Group, k int, swap bool) *permutedMember {
	x := &permutedMember{step: g.step(k)}
	centre := 0.0
	if len(g.Differences) > 0 {
		x.values = g.Differences[k]
	} else {
		first, second := g.Before[k], g.After[k]
		if swap {
			first, second = second, first
		}
		x.values, x.m = slices.Concat(first, second), len(first)
		centre = numeric.Mean(x.values)
	}
	largest := 0.0
	for _, v := range x.values {
		largest = math.Max(largest, math.Abs(v-centre))
	}
	if largest == 0 {
		largest = 1
	}
	for _, v := range x.values {
		z := (v - centre) / largest
		x.scaled = append(x.scaled, z)
		x.all.sum += z
		x.all.squares += z * z
	}
	m, n := float64(x.m), float64(len(x.values)-x.m)
	if x.m == 0 {
		m = n
	} else {
		x.inverse = [4]float64{1 / m, 1 / n, 1 / (m - 1), 1 / (n - 1)}
	}
	x.minSquared = roundingVariance(x.step/largest, m, n)
	return x
}

// fill tabulates the sums of all choices among eight sessions each.
func (x *permutedMember) fill(tables [][256]sums) {
	for c := range tables {
		for mask := 1; mask < 256; mask++ {
			s := tables[c][mask&(mask-1)]
			if i := 8*c + bits.TrailingZeros(uint(mask)); i < len(x.scaled) {
				s.sum += x.scaled[i]
				s.squares += x.scaled[i] * x.scaled[i]
			}
			tables[c][mask] = s
		}
	}
}

// sumsOf adds up what an assignment chooses.
func sumsOf(tables [][256]sums, mask []byte) (s sums) {
	for c, bits := range mask {
		part := &tables[c][bits]
		s.sum += part.sum
		s.squares += part.squares
	}
	return s
}

// nearlyBelow keeps a statistic that equals its bound from lying below it by
// rounding.
const nearlyBelow = 1 - 1e-6

// below reports whether the square of t lies surely below a bound.
func (x *permutedMember) below(s sums, squaredT float64) bool {
	change, variance := x.squared(s)
	return change < squaredT*variance*nearlyBelow
}

// squared returns the squares of the scaled change and of its standard error.
func (x *permutedMember) squared(s sums) (change, variance float64) {
	if x.m == 0 {
		n := float64(len(x.values))
		sum := 2*s.sum - x.all.sum
		return sum * sum / (n * n), max((x.all.squares-sum*sum/n)/(n*(n-1)), x.minSquared)
	}
	change = s.sum*x.inverse[0] - (x.all.sum-s.sum)*x.inverse[1]
	first, second := x.variances(s)
	return change * change, max(first*x.inverse[0]+second*x.inverse[1], x.minSquared)
}

// variances returns those of both sides, scaled.
func (x *permutedMember) variances(s sums) (first, second float64) {
	rest := x.all.sum - s.sum
	first = (s.squares - s.sum*s.sum*x.inverse[0]) * x.inverse[2]
	second = (x.all.squares - s.squares - rest*rest*x.inverse[1]) * x.inverse[3]
	return first, second
}

// p works out the p of an assignment by the formula of the one at hand.
func (x *permutedMember) p(mask []byte, buffer []float64) float64 {
	if x.m == 0 {
		for i, v := range x.values {
			if mask[i/8]>>(i%8)&1 == 0 {
				v = -v
			}
			buffer[i] = v
		}
		return studentFit(buffer, x.step).p()
	}
	first, second := 0, x.m
	for i, v := range x.values {
		if mask[i/8]>>(i%8)&1 == 1 {
			buffer[first] = v
			first++
		} else {
			buffer[second] = v
			second++
		}
	}
	return welchFit(buffer[:x.m], buffer[x.m:], x.step).p()
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
