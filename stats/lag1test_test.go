package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestLag1TestByHand(t *testing.T) { // counting
	// Deviations -1 0 1: the products sum to 0 with 0 in the middle (2 of 6
	// orders), to -1 else.
	if rho, p := Lag1Test([]float64{4, 5, 6}); rho != 0 || p != 1./3 {
		t.Errorf("4 5 6: rho = %v, p = %v, want 0 and 1/3", rho, p)
	}
	if rho, p := Lag1Test([]float64{4, 6, 5}); rho != -0.5 || p != 1 {
		t.Errorf("4 6 5: rho = %v, p = %v, want -0.5 and 1", rho, p)
	}
	// Twice the same, so 1/9; a session of two says nothing, whatever its level.
	if rho, p := Lag1TestWithin([][]float64{{4, 5, 6}, {90, 10}, {16, 15, 14}}); rho != 0 || p != 1./9 {
		t.Errorf("two sessions: rho = %v, p = %v, want 0 and 1/9", rho, p)
	}
	for _, s := range [][][]float64{nil, {{}}, {{1, 2}, {3, 4}}, {{7, 7, 7, 7}, {8, 8, 8}}} {
		if rho, p := Lag1TestWithin(s); rho != 0 || p != 1 {
			t.Errorf("%v: rho = %v, p = %v, want 0 and 1", s, rho, p)
		}
	}
}

func TestPermuteVisitsEveryOrder(t *testing.T) { // counting: n!
	seen := map[[5]float64]bool{}
	d := []float64{1, 2, 3, 4, 5}
	visits := 0
	permute(d, len(d), func() { seen[[5]float64(d)] = true; visits++ })
	if len(seen) != 120 || visits != 120 {
		t.Errorf("%d orders in %d visits, want 120", len(seen), visits)
	}
}

func TestLag1TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := anySample(t, "x", 3, 7, true)
		rho, p := Lag1Test(x)
		if want := Lag1(x); math.Abs(rho-want) > 1e-12 {
			t.Errorf("rho = %v, Lag1 = %v", rho, want)
		}
		back := slices.Clone(x)
		slices.Reverse(back)
		if _, q := Lag1Test(back); math.Abs(p-q) > 1e-12 {
			t.Errorf("p = %v forwards, %v backwards", p, q)
		}
		if _, q := Lag1Test(moved(x, 4, 1024)); math.Abs(p-q) > 1e-12 {
			t.Errorf("p = %v, scaled and moved %v", p, q)
		}
	})
}

// dependent returns values of variance 1 each of which keeps the share rho of
// the one before. The noise has mean 0.
func dependent(g *rand.Rand, shape string, n int, rho float64) []float64 {
	centre := 0.0
	if shape == "skew" {
		centre = 1
	}
	x := draw(g, shape, n)
	for i := range x {
		x[i] -= centre
		if i > 0 {
			x[i] = rho*x[i-1] + math.Sqrt(1-rho*rho)*x[i]
		}
	}
	return x
}

// How often p is at most 0.01 and 0.05 without dependence, and 0.01 with.
func TestLag1TestLevelAndPower(t *testing.T) {
	for i, c := range []struct {
		n, repeats, tried int     // without and with dependence, for each shape
		least             float64 // share found
	}{{8, 300, 80, 0.05}, {20, 2000, 100, 0.33}, {60, 800, 50, 0.88}} {
		if raceEnabled {
			c.repeats, c.tried = c.repeats/10, c.tried/10
		}
		var found int
		for j, shape := range shapeNames {
			g := generator(uint64(380 + 10*i + j))
			var small, smaller int
			for range c.repeats {
				_, p := Lag1Test(draw(g, shape, c.n))
				if p <= 0.05 {
					small++
				}
				if p <= 0.01 {
					smaller++
				}
			}
			share := func(count int) float64 { return float64(count) / float64(c.repeats) }
			t.Logf("%d values, %s: p <= 0.05 in %.1f %%, <= 0.01 in %.1f %%", c.n, shape, 100*share(small), 100*share(smaller))
			for _, v := range []struct {
				count int
				bar   float64
			}{{small, 0.05}, {smaller, 0.01}} {
				if share(v.count) > v.bar+3*standardError(v.bar, c.repeats) {
					t.Errorf("%d values, %s: p <= %v in %.2f %%", c.n, shape, v.bar, 100*share(v.count))
				}
			}
			for range c.tried {
				if _, p := Lag1Test(dependent(g, shape, c.n, 0.5)); p <= 0.01 {
					found++
				}
			}
		}
		tried := c.tried * len(shapeNames)
		share := float64(found) / float64(tried)
		t.Logf("%d values: lag-1 0.5 found in %.0f %%", c.n, 100*share)
		if share < c.least-2*standardError(c.least, tried) {
			t.Errorf("%d values: lag-1 0.5 found in %.1f %%, want at least %.0f %%", c.n, 100*share, 100*c.least)
		}
	}
}

// The same order as the standard library's generator gives.
func TestShuffle(t *testing.T) {
	for _, n := range []int{0, 1, 2, 3, 8, 1000} {
		got, want := ascendingFrom(0, n), ascendingFrom(0, n)
		shuffle(rand.NewPCG(5, 6), got)
		g := rand.New(rand.NewPCG(5, 6))
		for i := n - 1; i > 0; i-- {
			j := g.IntN(i + 1)
			want[i], want[j] = want[j], want[i]
		}
		if !slices.Equal(got, want) {
			t.Errorf("%d values: %v, want %v", n, got, want)
		}
	}
}

func BenchmarkLag1Test(b *testing.B) {
	benchmarkSizes(b, func(x, _ []float64) { Lag1Test(x) })
}
