package check

import (
	"math"
	"math/rand/v2"
	"slices"
	"sort"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

func TestLag1TestByHand(t *testing.T) { // counting
	// Deviations -1 0 1: the products sum to 0 with 0 in the middle (2 of 6
	// orders), to -1 else.
	if rho, p := Lag1Test([][]float64{{4, 5, 6}}); rho != 0 || p != 1./3 {
		t.Errorf("4 5 6: rho = %v, p = %v, want 0 and 1/3", rho, p)
	}
	if rho, p := Lag1Test([][]float64{{4, 6, 5}}); rho != -0.5 || p != 1 {
		t.Errorf("4 6 5: rho = %v, p = %v, want -0.5 and 1", rho, p)
	}
	// Twice the same, so 1/9; a session of two says nothing, whatever its level.
	if rho, p := Lag1Test([][]float64{{4, 5, 6}, {90, 10}, {16, 15, 14}}); rho != 0 || p != 1./9 {
		t.Errorf("two sessions: rho = %v, p = %v, want 0 and 1/9", rho, p)
	}
	for _, s := range [][][]float64{nil, {{}}, {{1, 2}, {3, 4}}, {{7, 7, 7, 7}, {8, 8, 8}}} {
		if rho, p := Lag1Test(s); rho != 0 || p != 1 {
			t.Errorf("%v: rho = %v, p = %v, want 0 and 1", s, rho, p)
		}
	}
}

func TestPermuteVisitsEveryOrder(t *testing.T) { // counting: n!
	seen := map[[5]float64]bool{}
	d := []float64{1, 2, 3, 4, 5}
	visits := 0
	numeric.Permute(d, len(d), func() { seen[[5]float64(d)] = true; visits++ })
	if len(seen) != 120 || visits != 120 {
		t.Errorf("%d orders in %d visits, want 120", len(seen), visits)
	}
}

func TestLag1TestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := statstest.AnySample(t, "x", 3, 7, true)
		rho, p := Lag1Test([][]float64{x})
		if want := Lag1(x); math.Abs(rho-want) > 1e-12 {
			t.Errorf("rho = %v, Lag1 = %v", rho, want)
		}
		back := slices.Clone(x)
		slices.Reverse(back)
		if _, q := Lag1Test([][]float64{back}); math.Abs(p-q) > 1e-12 {
			t.Errorf("p = %v forwards, %v backwards", p, q)
		}
		if _, q := Lag1Test([][]float64{statstest.Moved(x, 4, 1024)}); math.Abs(p-q) > 1e-12 {
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
	x := statstest.Draw(g, shape, n)
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
	statstest.FullTier(t, "a simulation")
	for i, c := range []struct {
		n, repeats, tried int     // without and with dependence, for each shape
		least             float64 // share found
	}{{8, 300, 80, 0.05}, {20, 2000, 100, 0.33}, {60, 800, 50, 0.88}} {
		if statstest.RaceEnabled {
			c.repeats, c.tried = c.repeats/10, c.tried/10
		}
		var found int
		for j, shape := range statstest.ShapeNames {
			g := statstest.Generator(uint64(380 + 10*i + j))
			var small, smaller int
			for range c.repeats {
				_, p := Lag1Test([][]float64{statstest.Draw(g, shape, c.n)})
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
				if share(v.count) > v.bar+3*statstest.StandardError(v.bar, c.repeats) {
					t.Errorf("%d values, %s: p <= %v in %.2f %%", c.n, shape, v.bar, 100*share(v.count))
				}
			}
			for range c.tried {
				if _, p := Lag1Test([][]float64{dependent(g, shape, c.n, 0.5)}); p <= 0.01 {
					found++
				}
			}
		}
		tried := c.tried * len(statstest.ShapeNames)
		share := float64(found) / float64(tried)
		t.Logf("%d values: lag-1 0.5 found in %.0f %%", c.n, 100*share)
		if share < c.least-2*statstest.StandardError(c.least, tried) {
			t.Errorf("%d values: lag-1 0.5 found in %.1f %%, want at least %.0f %%", c.n, 100*share, 100*c.least)
		}
	}
}

// The same order as the standard library's generator gives.
func TestShuffle(t *testing.T) {
	for _, n := range []int{0, 1, 2, 3, 8, 1000} {
		got, want := statstest.AscendingFrom(0, n), statstest.AscendingFrom(0, n)
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
	statstest.BenchmarkSizes(b, func(x, _ []float64) { Lag1Test([][]float64{x}) })
}

// Moments over all orders, counted one by one.
func TestLag1CumulantsAgainstAllOrders(t *testing.T) {
	for i, shape := range statstest.ShapeNames {
		for n := 3; n <= 8; n++ {
			x := statstest.Draw(statstest.Generator(uint64(390+i)), shape, n)
			x = statstest.Moved(x, 1, -numeric.Mean(x))
			var all []float64
			numeric.Permute(x, n, func() { all = append(all, neighbours(x)) })
			sameMoments(t, shape, lag1Cumulants(x), all)
		}
	}
}

// Where the limit begins it gives the p that drawing gives, within the error
// of that (14 % of itself at p near 0.01) and a tenth for the fit, whatever
// the noise, read finely or in steps, and with sessions.
func TestLag1LimitAgainstDrawing(t *testing.T) {
	statstest.FullTier(t, "20,000 orders for each p")
	if statstest.RaceEnabled {
		t.Skip("draws for long, and nothing runs at the same time")
	}
	for i, shape := range statstest.ShapeNames {
		for j, kind := range []struct {
			sessions int
			step     float64
		}{{1, 0.001}, {1, 2}, {limitFrom / 5, 0.001}, {limitFrom / 25, 0.001}} {
			g := statstest.Generator(uint64(400 + 10*i + j))
			n := 2 * limitFrom / kind.sessions
			var centred [][]float64
			squares := 0.0
			for range kind.sessions {
				d := statstest.Rounded(statstest.Draw(g, shape, n), kind.step)
				d = statstest.Moved(d, 1, -numeric.Mean(d))
				squares += float64(len(d)-1) * numeric.Variance(d)
				centred = append(centred, d)
			}
			limit, unit := lag1Limit(centred, squares/float64(n*kind.sessions))
			if !limit.near() {
				t.Logf("%s, %d sessions, steps of %v: drawn, since few values carry the sum: %+v", shape, kind.sessions, kind.step, limit)
				continue
			}
			const draws = 20_000
			var drawn [draws]float64
			source := rand.NewPCG(uint64(400+j), 0)
			for k := range drawn {
				for _, d := range centred {
					shuffle(source, d)
					drawn[k] += neighbours(d)
				}
			}
			slices.Sort(drawn[:])
			for _, p := range []float64{0.5, 0.1, 0.02, 0.01, 0.003} {
				at := drawn[draws-int(p*draws)]
				as := float64(draws-sort.SearchFloat64s(drawn[:], at)) / draws // ties lie at it, too
				got := limit.pearsonTail(at / unit)
				t.Logf("%s, %d sessions, steps of %v: p %.5f drawn, %.5f by the limit", shape, kind.sessions, kind.step, as, got)
				if math.Abs(got-as) > 3*statstest.StandardError(as, draws)+0.1*as {
					t.Errorf("%s, %d sessions, steps of %v: p %v drawn, %v by the limit", shape, kind.sessions, kind.step, as, got)
				}
			}
		}
	}
}
