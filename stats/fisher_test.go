package stats

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

func TestFisherPublished(t *testing.T) {
	// Fisher's tea: 3 of 4 cups right of each kind, 34 of 70 orders two-sided.
	if got := FisherExact(3, 1, 1, 3); math.Abs(got-34./70) > 1e-15 {
		t.Errorf("tea: p = %v, want 34/70", got)
	}
	// Twins of convicts (Fisher 1962, Science 136:485): 0.0005367, as R's help on
	// fisher.test prints it (run in R 4.2.2).
	if got := FisherExact(10, 2, 3, 15); math.Abs(got-0.0005367241) > 5e-11 {
		t.Errorf("twins: p = %v, want 0.0005367241", got)
	}
}

func TestFisherAgainstListing(t *testing.T) { // counting: C(m, k) C(n, s-k) of C(m+n, s)
	for m := range 7 {
		for n := range 6 {
			for a := range m + 1 {
				for c := range n + 1 {
					s := a + c
					ways := func(k int) float64 { return numeric.Choose(m, k) * numeric.Choose(n, s-k) }
					total, extreme := 0.0, 0.0
					for k := max(0, s-n); k <= min(m, s); k++ {
						total += ways(k)
						if ways(k) <= ways(a) {
							extreme += ways(k)
						}
					}
					if got := FisherExact(a, m-a, c, n-c); math.Abs(got-extreme/total) > 1e-14 {
						t.Errorf("%d of %d, %d of %d: p = %v, want %v", a, m, c, n, got, extreme/total)
					}
				}
			}
		}
	}
}

// At no common failure rate may p be small more often than it says; checked
// over all tables, without simulation.
func TestTwoSidesHoldTheirLevel(t *testing.T) {
	for _, size := range [][2]int{{6, 6}, {10, 7}, {20, 20}, {30, 12}} {
		m, n := size[0], size[1]
		tests := map[string]func(a, b, c, d int) float64{"Fisher": FisherExact, "Boschloo": Boschloo}
		alarms := map[string]float64{}
		for name, test := range tests {
			rejected := make([][]bool, m+1)
			for a := range rejected {
				rejected[a] = make([]bool, n+1)
				for c := range rejected[a] {
					rejected[a][c] = test(a, m-a, c, n-c) <= 0.05
				}
			}
			for rate := 0.01; rate < 1; rate += 0.01 {
				first, second := distuv.Binomial{N: float64(m), P: rate}, distuv.Binomial{N: float64(n), P: rate}
				share := 0.0
				for a := range rejected {
					for c, yes := range rejected[a] {
						if yes {
							share += first.Prob(float64(a)) * second.Prob(float64(c))
						}
					}
				}
				if share > 0.05+1e-9 {
					t.Errorf("%s, %d and %d passes, rate %v: p <= 0.05 in %v", name, m, n, rate, share)
				}
				alarms[name] = math.Max(alarms[name], share)
			}
		}
		t.Logf("%d and %d passes: false alarms at worst %.2f %% (Fisher), %.2f %% (Boschloo)", m, n, 100*alarms["Fisher"], 100*alarms["Boschloo"])
		if alarms["Boschloo"] < alarms["Fisher"] {
			t.Errorf("%d and %d passes: Boschloo uses less of its 5 %% than Fisher", m, n)
		}
	}
}

func TestTwoSidesProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		count := func(name string) int { return rapid.IntRange(0, 25).Draw(t, name) }
		a, b, c, d := count("a"), count("b"), count("c"), count("d")
		for name, test := range map[string]func(a, b, c, d int) float64{"Fisher": FisherExact, "Boschloo": Boschloo} {
			p := test(a, b, c, d)
			if !(p > 0 && p <= 1) {
				t.Errorf("%s: p = %v", name, p)
			}
			for _, other := range []float64{test(c, d, a, b), test(b, a, d, c)} { // sides, or failing and passing, exchanged
				if math.Abs(other-p) > 1e-9 {
					t.Errorf("%s: p = %v, mirrored %v", name, p, other)
				}
			}
		}
		low, chance := tablesLike(a, b, c, d)
		upper := numeric.Sum(chance[a-low:])
		lower := numeric.Sum(chance[:a-low+1])
		if p := Boschloo(a, b, c, d); p > math.Min(1, 2*math.Min(upper, lower))+1e-9 {
			t.Errorf("Boschloo = %v, twice Fisher's smaller tail %v", p, 2*math.Min(upper, lower))
		}
	})
}

func TestTwoSidesEdges(t *testing.T) {
	for _, v := range [][4]int{{0, 0, 0, 0}, {0, 5, 0, 9}, {5, 0, 9, 0}, {0, 0, 3, 4}} {
		if p := FisherExact(v[0], v[1], v[2], v[3]); p != 1 {
			t.Errorf("FisherExact%v = %v, want 1", v, p)
		}
		if p := Boschloo(v[0], v[1], v[2], v[3]); p != 1 {
			t.Errorf("Boschloo%v = %v, want 1", v, p)
		}
	}
	if p := FisherExact(0, 2000, 40, 1960); !(p > 0 && p < 1e-11) { // 2 * 0.5^40 or so
		t.Errorf("0 and 40 of 2000: p = %v", p)
	}
	if p := Boschloo(2, 998, 12, 988); !(p > 0.001 && p < 0.02) {
		t.Errorf("2 and 12 of 1000: Boschloo = %v, want about 0.008", p)
	}
	for _, v := range [][4]int{{-1, 1, 1, 1}, {1, -1, 1, 1}, {1, 1, -1, 1}, {1, 1, 1, -1}} {
		if !statstest.Panics(func() { FisherExact(v[0], v[1], v[2], v[3]) }) || !statstest.Panics(func() { Boschloo(v[0], v[1], v[2], v[3]) }) {
			t.Errorf("%v does not panic", v)
		}
	}
}
