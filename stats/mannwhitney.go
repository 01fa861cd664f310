package stats

import (
	"math"

	"tunegate/stats/internal/numeric"
)

// RankTest is the outcome of a two-sample Mann-Whitney test.
type RankTest struct {
	U     float64 // pairs with after > before; a tied pair counts half
	P     float64 // two-sided: P(|U - mn/2| >= |u - mn/2|)
	PUsed float64 // the larger of P and twice the smaller tail, at most 1
	Lower float64 // P(U <= u)
	Upper float64 // P(U >= u)
	Exact bool    // the permutation distribution given the ties, not the normal one
}

// MannWhitney tests whether values of one side tend to be larger (Mann and
// Whitney 1947). It is exact where that is feasible (see exactFeasible), else
// normal. It panics when a side is empty.
func MannWhitney(before, after []float64) RankTest {
	g := tieGroups(before, after)
	if exactFeasible(g.m, g.n, g.tied()) {
		return g.exact()
	}
	return g.normal()
}

// SmallestP is the smallest two-sided p that m and n untied values can reach:
// 2 / C(m+n, m), at most 1.
func SmallestP(m, n int) float64 {
	if m < 1 || n < 1 {
		return 1
	}
	return math.Min(1, 2/numeric.Choose(m+n, m))
}

// exactFeasible says whether the exact distribution takes at most about a
// tenth of a second: some 270 values a side without ties, 100 with ties, and few
// against many whenever they are transformable.
func exactFeasible(m, n int, tied bool) bool {
	if tied {
		return tiedWork(m, n) <= 2e8 || transformable(m, n)
	}
	return float64(m)*float64(n)*float64(min(m, n)) <= 2e7
}

// tiedWork is what counting takes where values are tied, in steps.
func tiedWork(m, n int) float64 {
	return float64(m) * float64(n) * float64(min(m, n)) * float64(m+n)
}

// fewWork is from how many steps on few values against many are transformed rather than
// counted, see transformed.
const fewWork = 2e6

// groups are the pooled values in ascending order, one entry per distinct
// value: how many of each side have it.
type groups struct {
	m, n          int
	before, after []int
}

func tieGroups(before, after []float64) groups {
	if len(before) == 0 || len(after) == 0 {
		panic("stats: rank test of an empty side")
	}
	x, y := numeric.Sorted(before), numeric.Sorted(after)
	g := groups{m: len(x), n: len(y)}
	for i, j := 0, 0; i < len(x) || j < len(y); {
		v := math.Inf(1)
		if i < len(x) {
			v = x[i]
		}
		if j < len(y) && y[j] < v {
			v = y[j]
		}
		b, a := 0, 0
		for ; i < len(x) && x[i] == v; i++ {
			b++
		}
		for ; j < len(y) && y[j] == v; j++ {
			a++
		}
		g.before, g.after = append(g.before, b), append(g.after, a)
	}
	return g
}

func (g groups) tied() bool { return len(g.before) < g.m+g.n }

// doubledU is 2U, an integer.
func (g groups) doubledU() int {
	u, below := 0, 0
	for k := range g.before {
		u += g.after[k] * (2*below + g.before[k])
		below += g.before[k]
	}
	return u
}

// exact uses the permutation distribution of U given the ties (Streitberg and
// Röhmel 1986), counted on the integer 2U. Time grows with m n min(m, n) without
// ties, and with m n min(m, n) (m+n) with ties, but for few values against many: those
// are transformed.
func (g groups) exact() RankTest {
	u, mn := g.doubledU(), g.m*g.n
	if g.m > g.n || g.m == g.n && u > mn { // sums round by their order: swapping the sides mirrors every bit
		t := groups{g.n, g.m, g.after, g.before}.exact()
		t.U, t.Lower, t.Upper = float64(mn)-t.U, t.Upper, t.Lower
		return t
	}
	var count []float64 // of 2U = index*step
	step, least := 1, 0.0
	switch {
	case !g.tied():
		count, step = numeric.UntiedCounts(g.m, g.n), 2
	case tiedWork(g.m, g.n) > fewWork && transformable(g.m, g.n):
		count, least = transformed(g.m, g.sizes()), leastTransformed
	default:
		count = tiedNulls.Get(numeric.SizesKey(append([]int{g.m, g.n}, g.sizes()...)), g.permutationCounts)
	}
	var total, lower, upper, extreme float64
	for i, c := range count {
		v := i * step
		total += c
		if v <= u {
			lower += c
		}
		if v >= u {
			upper += c
		}
		if numeric.Abs(v-mn) >= numeric.Abs(u-mn) {
			extreme += c
		}
	}
	share := func(part float64) float64 { return math.Min(1, math.Max(part/total, least)) }
	t := RankTest{U: float64(u) / 2, P: share(extreme), Lower: share(lower), Upper: share(upper), Exact: true}
	t.PUsed = math.Max(t.P, math.Min(1, 2*math.Min(t.Lower, t.Upper)))
	return t
}

// normal uses the normal approximation with the variance given the ties and a
// continuity correction of one half (Lehmann 1975, section 1.4).
func (g groups) normal() RankTest {
	m, n := float64(g.m), float64(g.n)
	u := float64(g.doubledU()) / 2
	sd := math.Sqrt(g.nullVariance())
	if !(sd > 0) { // every value is the same
		return RankTest{U: u, P: 1, PUsed: 1, Lower: 1, Upper: 1}
	}
	off := u - m*n/2
	p := math.Erfc(math.Max(0, math.Abs(off)-0.5) / sd / math.Sqrt2)
	return RankTest{U: u, P: p, PUsed: p,
		Lower: math.Erfc(-(off+0.5)/sd/math.Sqrt2) / 2,
		Upper: math.Erfc((off-0.5)/sd/math.Sqrt2) / 2}
}

// nullVariance is the variance of U over all assignments, given the ties.
func (g groups) nullVariance() float64 {
	m, n := float64(g.m), float64(g.n)
	all, ties := m+n, 0.0
	for k := range g.before {
		t := float64(g.before[k] + g.after[k])
		ties += t * (t*t - 1)
	}
	return m * n / 12 * (all + 1 - ties/(all*(all-1)))
}

// sizes are those of the groups of tied values.
func (g groups) sizes() []int {
	sizes := make([]int, len(g.before))
	for k := range sizes {
		sizes[k] = g.before[k] + g.after[k]
	}
	return sizes
}

var tiedNulls = numeric.Memo[string, []float64]{Max: 32}

// permutationCounts returns how many assignments of the pooled values to the
// sides have 2U = index, given the ties: the shift algorithm of Streitberg and
// Röhmel, one group of tied values at a time. The state is (how many values
// went to the smaller side, 2U so far).
func (g groups) permutationCounts() []float64 {
	m, n, flip := g.m, g.n, false
	if n > m {
		m, n, flip = n, m, true
	}
	ways := make([][]float64, n+1)
	for j := range ways {
		ways[j] = make([]float64, 2*j*m+1)
	}
	ways[0][0] = 1
	seen := 0
	for k := range g.before {
		t := g.before[k] + g.after[k]
		for j := min(n, seen+t); j >= max(0, seen+t-m); j-- {
			into, c := ways[j], 1.0 // c is C(t, a)
			for a := 1; a <= min(t, j); a++ {
				c = c * float64(t-a+1) / float64(a)
				below := seen - (j - a) // values of the larger side so far
				if below < 0 || below > m {
					continue
				}
				shift := a * (2*below + t - a)
				from := ways[j-a][:2*(j-a)*below+1]
				for s, w := range from {
					if w != 0 {
						into[s+shift] += c * w
					}
				}
			}
		}
		seen += t
	}
	count := ways[n]
	if flip { // counted pairs with before > after
		for i, j := 0, len(count)-1; i < j; i, j = i+1, j-1 {
			count[i], count[j] = count[j], count[i]
		}
	}
	return count
}
