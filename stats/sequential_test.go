package stats

import (
	"math"
	"slices"
	"testing"
)

func TestSimulatedP(t *testing.T) {
	for _, p := range []float64{0.9, 0.5, 0.1, 0.02, 0.006} {
		got := simulatedP(1-p, mostDraws, generator(371).Float64)
		if math.Abs(got/p-1) > 3.5/math.Sqrt(enoughBeyond) {
			t.Errorf("p = %v, want %v within its error", got, p)
		}
		if again := simulatedP(1-p, mostDraws, generator(371).Float64); again != got {
			t.Errorf("p = %v, then %v", got, again)
		}
	}
	if got := simulatedP(2, mostDraws, generator(371).Float64); got != 1.0/(mostDraws+1) {
		t.Errorf("p = %v where no draw is beyond, want 1 in %d", got, mostDraws+1)
	}
	if got := simulatedP(0, mostDraws, generator(371).Float64); got != 1 {
		t.Errorf("p = %v where all draws are beyond, want 1", got)
	}
}

// A p value may not be small more often than it says, though the draws end
// early (Besag and Clifford 1991). Observed values and draws come from the same
// generator here, one after the other.
func TestSimulatedPHoldsItsLevel(t *testing.T) {
	g := generator(370)
	const repeats = 4000
	small := map[float64]int{0.01: 0, 0.05: 0, 0.2: 0}
	for range repeats {
		p := simulatedP(g.Float64(), 999, g.Float64)
		for bar := range small {
			if p <= bar {
				small[bar]++
			}
		}
	}
	for bar, n := range small {
		if share := float64(n) / repeats; math.Abs(share-bar) > 3*standardError(bar, repeats) {
			t.Errorf("p is at most %v in %.2f %%", bar, 100*share)
		}
	}
}

func TestDrawsFor(t *testing.T) {
	for _, c := range [][2]int{{0, 9999}, {20, 9999}, {1000, 9999}, {10_000, 1000}, {1_000_000, 399}} {
		if got := drawsFor(c[0]); got != c[1] {
			t.Errorf("drawsFor(%d) = %d, want %d", c[0], got, c[1])
		}
	}
}

func TestDeviations(t *testing.T) {
	d := newDeviations([][]float64{{9, 1, 5}, {4, 4}, {}, {2, 8, 4, 6}, {3}})
	if want := []float64{4, -4, 0, -3, 3, -1, 1}; !slices.Equal(d.value, want) {
		t.Errorf("deviations %v, want %v", d.value, want)
	}
	if want := []int{0, 1, 2, 5, 6, 7, 8}; !slices.Equal(d.at, want) {
		t.Errorf("places %v, want %v", d.at, want)
	}
	if want := []int{3, 4}; !slices.Equal(d.sizes, want) {
		t.Errorf("sizes %v, want %v", d.sizes, want)
	}
	if one := newDeviations([][]float64{{9, 1, 5}, {4, 4}}); !slices.Equal(one.value, []float64{9, 1, 5}) {
		t.Errorf("a single session becomes %v, want it as it is", one.value)
	}
}

// The first series of its sizes, and one that takes all the draws.
func BenchmarkNulls(b *testing.B) {
	for _, s := range []struct {
		name string
		*statistic
	}{{"outlier", farOut}, {"two modes", apart}} {
		b.Run(s.name, func(b *testing.B) {
			benchmarkSizes(b, func(x, _ []float64) {
				d := deviations{value: x, sizes: []int{len(x)}}
				nulls := d.nulls(s.statistic)
				for i := range nulls {
					nulls[i].p(math.Inf(1), drawsFor(len(x)))
				}
			})
		})
	}
}
