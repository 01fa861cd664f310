package check

import (
	"math"
	"testing"

	"tunegate/stats/internal/statstest"
)

// The chance that two readings are equal is never below the share of equal pairs, in
// the noises that the checks are held to, also where sittings have luck of their own, a
// warm-up run or a drift in common.
func TestEqualByChance(t *testing.T) {
	repeats := 300
	if testing.Short() || statstest.RaceEnabled {
		repeats = 30
	}
	for _, shape := range []string{"normal", "skew", "t5"} {
		for _, step := range []float64{0.05, 0.25, 1} {
			for _, c := range []struct {
				name               string
				luck, first, drift float64
			}{{"plain", 0, 0, 0}, {"luck", 2, 0, 0}, {"warm-up", 0, 20, 0}, {"drift", 0, 0, 3}} {
				g := statstest.Generator(600)
				equal, pairs, bound := 0.0, 0.0, 0.0
				for range repeats {
					lists := make([][]float64, 10)
					for k := range lists {
						x := statstest.Moved(statstest.Draw(g, shape, 6), 1, 400+c.luck*g.NormFloat64())
						x[0] += c.first
						for i := range x {
							x[i] += c.drift * float64(i)
						}
						lists[k] = statstest.Rounded(x, step)
						for i := range x {
							if k > 0 && lists[k][i] == lists[k-1][i] {
								equal++
							}
							if k > 0 {
								pairs++
							}
						}
					}
					bound += EqualByChance(lists) / float64(repeats)
				}
				share := equal / pairs
				t.Logf("%s, %s, steps of %v: %.4f in place are equal, bound %.4f", shape, c.name, step, share, bound)
				if bound < share || bound > 1 {
					t.Errorf("%s, %s, steps of %v: %.4f in place are equal, above the bound %.4f", shape, c.name, step, share, bound)
				}
			}
		}
	}
	for _, lists := range [][][]float64{nil, {{5}}, {{5, 5}, {5, 5}}, {{7}, {7}}} {
		if got := EqualByChance(lists); got != 1 {
			t.Errorf("EqualByChance(%v) = %v, want 1: nothing shows the noise", lists, got)
		}
	}
}

// Expected values: R 4.2.2, ppois and pnbinom, times the number of tests.
func TestCopiesP(t *testing.T) {
	for _, c := range []struct {
		name string
		of   []Overlap
		want float64
	}{
		{"in place", []Overlap{{N: 6, M: 6, Equal: 6, InPlace: 6, Chance: 0.1}}, 7.77121563026529e-05},
		{"anywhere", []Overlap{{N: 6, M: 6, Equal: 15, Chance: 0.1}}, 0.00734142192761747},
		{"two benchmarks together", []Overlap{{N: 6, M: 6, Equal: 6, InPlace: 6, Chance: 0.1}, {N: 6, M: 6, Equal: 6, InPlace: 6, Chance: 0.1}},
			3.70326878931155e-08},
		{"nothing equal", []Overlap{{N: 6, M: 6, Chance: 0.1}}, 1},
		{"nothing at all", nil, 1},
	} {
		if got := CopiesP(c.of); math.Abs(got/c.want-1) > 1e-9 {
			t.Errorf("%s: p = %v, want %v", c.name, got, c.want)
		}
	}
}
