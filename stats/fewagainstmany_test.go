package stats

import (
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/statstest"
)

// By counting: how many ways there are to choose m of the doubled midranks with each sum,
// in whole numbers of any size. The sum is 2mn + m (m + 1) - 2U.
func countChoices(m int, tied []int) []float64 {
	n, seen := -m, 0
	for _, t := range tied {
		n += t
	}
	last := 2*m*n + m*(m+1)
	ways := make([][]*big.Int, m+1)
	for j := range ways {
		ways[j] = make([]*big.Int, last+1)
	}
	ways[0][0] = big.NewInt(1)
	for _, t := range tied {
		rank := 2*seen + t + 1
		for range t {
			for j := m; j > 0; j-- {
				for s := last; s >= rank; s-- {
					if w := ways[j-1][s-rank]; w != nil {
						if ways[j][s] == nil {
							ways[j][s] = new(big.Int)
						}
						ways[j][s].Add(ways[j][s], w)
					}
				}
			}
		}
		seen += t
	}
	total := new(big.Float).SetInt(new(big.Int).Binomial(int64(m+n), int64(m)))
	out := make([]float64, 2*m*n+1)
	for u := range out {
		if w := ways[m][last-u]; w != nil {
			out[u], _ = new(big.Float).Quo(new(big.Float).SetInt(w), total).Float64()
		}
	}
	return out
}

func TestTransformedAgainstCounting(t *testing.T) { // counting
	rapid.Check(t, func(t *rapid.T) {
		tied := rapid.SliceOfN(rapid.IntRange(1, 6), 4, 30).Draw(t, "tied")
		all := 0
		for _, n := range tied {
			all += n
		}
		m := rapid.IntRange(1, min(9, all/2)).Draw(t, "m")
		if !transformable(m, all-m) {
			t.Skip("too many for so few")
		}
		want, got := countChoices(m, tied), transformed(m, tied)
		sum, below := 0.0, 0.0
		for u := range want {
			sum, below = sum+got[u], below+want[u]
			if math.Abs(got[u]-want[u]) > 1e-15 || math.Abs(sum-below) > 1e-13 {
				t.Fatalf("%d of %v: 2U = %d has chance %v, want %v; up to it %v, want %v", m, tied, u, got[u], want[u], sum, below)
			}
		}
	})
}

// Where few stand against many, counting and transforming give the same p, so that
// changing from one to the other shows nowhere.
func TestTransformedAgainstPermutationCounts(t *testing.T) {
	g := statstest.Generator(12)
	for _, c := range []struct {
		m, n        int
		step, shift float64
	}{{6, 250, 0.01, 0}, {6, 250, 1, 1.5}, {250, 6, 0.1, 1}, {12, 400, 0.1, 0.5}, {24, 200, 0.1, 0.3}, {1, 1500, 0.01, 2}, {3, 900, 0.2, -2}} {
		x, y := statstest.Rounded(statstest.Draw(g, "normal", c.m), c.step), statstest.Moved(statstest.Draw(g, "normal", c.n), 1, c.shift)
		y = statstest.Rounded(y, c.step)
		groups := tieGroups(x, y)
		if !groups.tied() || tiedWork(c.m, c.n) <= fewWork || !transformable(c.m, c.n) {
			t.Errorf("%d and %d values are not transformed", c.m, c.n)
			continue
		}
		got, counts := MannWhitney(x, y), groups.permutationCounts()
		var total, lower, upper, extreme float64
		u, mn := groups.doubledU(), c.m*c.n
		for v, ways := range counts {
			total += ways
			if v <= u {
				lower += ways
			}
			if v >= u {
				upper += ways
			}
			if math.Abs(float64(v-mn)) >= math.Abs(float64(u-mn)) {
				extreme += ways
			}
		}
		for _, p := range [][2]float64{{got.P, extreme / total}, {got.Lower, lower / total}, {got.Upper, upper / total}} {
			if !got.Exact || math.Abs(p[0]-p[1]) > 1e-13 {
				t.Errorf("%d and %d values in steps of %v: %+v, want P = %v, %v and %v", c.m, c.n, c.step, got, extreme/total, lower/total, upper/total)
			}
		}
	}
}

func TestTransformedIsMirrored(t *testing.T) {
	g := statstest.Generator(13)
	for range 5 {
		x, y := statstest.Rounded(statstest.Draw(g, "normal", 6), 0.1), statstest.Rounded(statstest.Draw(g, "normal", 300), 0.1)
		want := MannWhitney(x, y)
		want.U, want.Lower, want.Upper = 1800-want.U, want.Upper, want.Lower
		if got := MannWhitney(y, x); got != want {
			t.Errorf("sides swapped: %+v, want %+v", got, want)
		}
	}
}

// A p that lies below what the transform can tell is given as the least that it tells.
func TestTransformedHasALeastP(t *testing.T) {
	low, high := statstest.AscendingFrom(0, 8), statstest.AscendingFrom(100, 1000)
	high[1] = high[0] // tied
	if got := MannWhitney(low,
		high); got.P != leastTransformed || got.Upper != leastTransformed || got.Lower != 1 || got.PUsed != 2*leastTransformed {
		t.Errorf("wholly apart: %+v, want P = %v", got, leastTransformed)
	}
}

func TestSmoothLength(t *testing.T) { // by hand
	for n, want := range map[int]int{1: 1, 7: 8, 11: 12, 97: 100, 1025: 1080, 12001: 12150} {
		if got := smoothLength(n); got != want {
			t.Errorf("smoothLength(%d) = %d, want %d", n, got, want)
		}
	}
}

func BenchmarkMannWhitneyFew(b *testing.B) {
	g := statstest.Generator(1)
	x, y := statstest.Rounded(statstest.Draw(g, "normal", 6), 0.01), statstest.Rounded(statstest.Draw(g, "normal", 2000), 0.01)
	for b.Loop() {
		MannWhitney(x, y)
	}
}
