package stats

import (
	"math"
	"math/bits"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

// listAssignments counts 2U over all C(m+n, m) ways to deal the pooled values
// to the sides: the permutation distribution by its definition.
func listAssignments(before, after []float64) map[int]int {
	pooled := append(slices.Clone(before), after...)
	count := map[int]int{}
	for set := range 1 << len(pooled) {
		if bits.OnesCount(uint(set)) != len(before) {
			continue
		}
		var x, y []float64
		for i, v := range pooled {
			if set>>i&1 == 1 {
				x = append(x, v)
			} else {
				y = append(y, v)
			}
		}
		count[countDoubledU(x, y)]++
	}
	return count
}

func countDoubledU(before, after []float64) int {
	u := 0
	for _, x := range before {
		for _, y := range after {
			switch {
			case y > x:
				u += 2
			case y == x:
				u++
			}
		}
	}
	return u
}

// wantTails takes the tails off a listed distribution whose centre is mn (of
// 2U). Whole numbers are divided once, so answers must agree to the last bit
// but for one rounding.
func wantTails(count map[int]int, u, mn int) RankTest {
	var all, lower, upper, extreme int
	for v, c := range count {
		all += c
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
	share := func(k int) float64 { return float64(k) / float64(all) }
	return RankTest{U: float64(u) / 2, P: share(extreme), Lower: share(lower), Upper: share(upper), Exact: true,
		PUsed: max(share(extreme), min(1, 2*share(min(lower, upper))))}
}

func TestMannWhitneyAgainstListing(t *testing.T) { // counting
	g := statstest.Generator(1)
	lopsided := 0
	for m := 1; m <= 5; m++ {
		for n := 1; n <= 6; n++ {
			for _, step := range []float64{0, 0.25, 1, 4} { // none to nearly all tied
				x, y := statstest.Draw(g, "normal", m), statstest.Draw(g, "normal", n)
				if step > 0 {
					x, y = statstest.Rounded(x, step), statstest.Rounded(y, step)
				}
				want := wantTails(listAssignments(x, y), countDoubledU(x, y), m*n)
				if got := mannWhitneyExact(x, y); got != want {
					t.Errorf("before %v, after %v:\ngot  %+v\nwant %+v", x, y, got, want)
				}
				if want.PUsed > want.P {
					lopsided++
				}
			}
		}
	}
	if lopsided < 10 {
		t.Errorf("only %d cases have a lopsided distribution", lopsided)
	}
}

func TestMannWhitneyEdges(t *testing.T) { // counting
	for _, c := range []struct {
		name          string
		before, after []float64
		want          RankTest
	}{
		{"one and one", []float64{1}, []float64{2}, RankTest{1, 1, 1, 1, 0.5, true}},
		{"one and one, equal", []float64{1}, []float64{1}, RankTest{0.5, 1, 1, 1, 1, true}},
		{"both constant and equal", []float64{3, 3, 3, 3}, []float64{3, 3, 3, 3, 3}, RankTest{10, 1, 1, 1, 1, true}},
		{"both constant, apart", []float64{3, 3, 3, 3}, []float64{4, 4, 4, 4}, RankTest{16, 2. / 70, 2. / 70, 1, 1. / 70, true}},
		{"one and nineteen", []float64{0}, statstest.AscendingFrom(1, 19), RankTest{19, 0.1, 0.1, 1, 0.05, true}},
		{"infinities are values", []float64{math.Inf(-1), 0}, []float64{0, math.Inf(1)}, RankTest{3.5, 4. / 6, 4. / 6, 1, 2. / 6, true}},
	} {
		if got := MannWhitney(c.before, c.after); got != c.want {
			t.Errorf("%s:\ngot  %+v\nwant %+v", c.name, got, c.want)
		}
	}
	for _, empty := range [][2][]float64{{nil, {1}}, {{1}, nil}} {
		if !statstest.Panics(func() { MannWhitney(empty[0], empty[1]) }) {
			t.Errorf("no panic for an empty side")
		}
	}
}

func TestSmallestP(t *testing.T) { // counting: 2 / C(m+n, m)
	for _, c := range []struct {
		m, n int
		want float64
	}{{3, 3, 2. / 20}, {4, 4, 2. / 70}, {5, 5, 2. / 252}, {6, 6, 2. / 924}, {1, 1, 1}, {1, 39, 2. / 40}, {0, 5, 1}, {5000, 5000, 0}} {
		if got := SmallestP(c.m, c.n); got != c.want {
			t.Errorf("SmallestP(%d, %d) = %v, want %v", c.m, c.n, got, c.want)
		}
		if c.m > 0 && c.m < 100 {
			apart := MannWhitney(statstest.AscendingFrom(0, c.m), statstest.AscendingFrom(100, c.n))
			if math.Abs(apart.P-c.want) > 1e-15 {
				t.Errorf("%d and %d values wholly apart have P = %v, want %v", c.m, c.n, apart.P, c.want)
			}
		}
	}
}

// At the border of the exact test the normal one must be near: the switch may
// not show in a verdict.
func TestMannWhitneySwitch(t *testing.T) {
	g := statstest.Generator(2)
	for _, c := range []struct {
		m, n  int
		step  float64
		exact bool
	}{{100, 100, 0.25, true}, {101, 101, 0.25, false}, {271, 271, 0, true},
		{272, 272, 0, false}, {20, 1000, 0, true}, {20, 930, 0.25, true}, {20, 940, 0.25, false}, {100, 400, 0.25, false}} {
		x, y := statstest.Draw(g, "normal", c.m), statstest.Moved(statstest.Draw(g, "normal", c.n), 1, 0.2)
		if c.step > 0 {
			x, y = statstest.Rounded(x, c.step), statstest.Rounded(y, c.step)
		}
		if statstest.RaceEnabled && c.exact && c.m > 100 {
			continue
		}
		chosen := MannWhitney(x, y)
		if chosen.Exact != c.exact {
			t.Errorf("%d and %d, grid %v: Exact = %v", c.m, c.n, c.step, chosen.Exact)
		}
		if c.exact {
			if normal := mannWhitneyNormal(x, y); math.Abs(normal.P-chosen.P) > 1e-3 {
				t.Errorf("%d and %d, grid %v: P = %v exact, %v normal", c.m, c.n, c.step, chosen.P, normal.P)
			}
		}
	}
}

// By hand, after Lehmann 1975, section 1.4: continuity correction of a half,
// variance mn/12 (N + 1 - sum(t^3 - t) / N(N - 1)).
func TestMannWhitneyNormal(t *testing.T) {
	for _, c := range []struct {
		before, after []float64
		z             float64
	}{
		{statstest.AscendingFrom(0, 5), statstest.AscendingFrom(2.5, 4), (3 + 4 + 5 + 5 - 10 - 0.5) / math.Sqrt(20./12*10)},
		{[]float64{1, 2, 2}, []float64{2, 3, 3}, (8 - 4.5 - 0.5) / math.Sqrt(9./12*(7-(24.+6)/30))},
		{[]float64{1, 4}, []float64{2, 3}, 0}, // the correction does not reach beyond the centre
	} {
		got, p := mannWhitneyNormal(c.before, c.after), math.Erfc(c.z/math.Sqrt2)
		if !alike(got.P, p) || got.PUsed != got.P || got.Exact {
			t.Errorf("before %v, after %v: %+v, want P = %v", c.before, c.after, got, p)
		}
	}
}

func TestMannWhitneyProperties(t *testing.T) {
	for name, test := range map[string]func(x, y []float64) RankTest{"exact": mannWhitneyExact, "normal": mannWhitneyNormal} {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				x, y := statstest.AnySides(t, 1, 25, true)
				mn := float64(len(x) * len(y))
				got := test(x, y)

				turned := test(y, x)
				if turned.U != mn-got.U || !alike(turned.P, got.P) || !alike(turned.PUsed, got.PUsed) ||
					!alike(turned.Lower, got.Upper) || !alike(turned.Upper, got.Lower) {
					t.Fatalf("sides swapped:\n%+v becomes\n%+v", got, turned)
				}
				if other := test(statstest.Shuffled(t, x), statstest.Shuffled(t, y)); other != got {
					t.Fatalf("values in another order:\n%+v becomes\n%+v", got, other)
				}
				bent := func(x []float64) []float64 { // strictly rising
					out := make([]float64, len(x))
					for i, v := range x {
						out[i] = math.Exp(v) + v*v*v
					}
					return out
				}
				if other := test(bent(x), bent(y)); other != got {
					t.Fatalf("values through a rising function:\n%+v becomes\n%+v", got, other)
				}
				if got.PUsed < got.P || got.P <= 0 || got.PUsed > 1 || got.Lower+got.Upper < 1-1e-12 {
					t.Fatalf("impossible: %+v", got)
				}
			})
		})
	}
}

// alike allows for sums in another order.
func alike(a, b float64) bool { return math.Abs(a-b) <= 1e-12*math.Max(math.Abs(a), math.Abs(b)) }

func BenchmarkMannWhitney(b *testing.B) {
	statstest.BenchmarkSizes(b, func(x, y []float64) { MannWhitney(x, y) })
}

func BenchmarkMannWhitneyTied(b *testing.B) {
	statstest.BenchmarkSizes(b, func(x, y []float64) { MannWhitney(statstest.Rounded(x, 0.25), statstest.Rounded(y, 0.25)) })
}

// Where counts take more than 53 bits, sums round by their order.
func TestMannWhitneySwapped(t *testing.T) {
	g := rand.New(rand.NewPCG(4, 2))
	for range 40 {
		sides := [2][]float64{make([]float64, 30+g.IntN(40)), make([]float64, 30+g.IntN(40))}
		step := g.IntN(3) // 0: no ties
		for _, x := range sides {
			for i := range x {
				if x[i] = g.NormFloat64(); step > 0 {
					x[i] = math.Round(x[i] * float64(4*step))
				}
			}
		}
		m, n := len(sides[0]), len(sides[1])
		want := mannWhitneyExact(sides[0], sides[1])
		want.U, want.Lower, want.Upper = float64(m*n)-want.U, want.Upper, want.Lower
		if got := mannWhitneyExact(sides[1], sides[0]); got != want {
			t.Fatalf("%d and %d values, steps %d: %v, want %v", m, n, step, got, want)
		}
	}
}

func mannWhitneyExact(before, after []float64) RankTest { return tieGroups(before, after).exact() }

func mannWhitneyNormal(before, after []float64) RankTest { return tieGroups(before, after).normal() }
