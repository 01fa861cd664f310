package stats

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func TestHodgesLehmann(t *testing.T) { // counting
	for _, c := range []struct {
		before, after []float64
		want          float64
	}{
		{[]float64{1}, []float64{4}, 3},
		{[]float64{1, 2}, []float64{4}, 2.5},
		{[]float64{1, 2, 3}, []float64{3, 3, 3}, 1},
		{[]float64{3, 1}, []float64{10, 0}, 3}, // differences -3 -1 7 9
		{[]float64{5, 5, 5}, []float64{5, 5}, 0},
	} {
		if got := HodgesLehmann(c.before, c.after); got != c.want {
			t.Errorf("HodgesLehmann(%v, %v) = %v, want %v", c.before, c.after, got, c.want)
		}
	}
	if !panics(func() { HodgesLehmann(nil, []float64{1}) }) || !panics(func() { HodgesLehmann([]float64{1}, nil) }) {
		t.Error("no panic for an empty side")
	}
}

// Sizes on both sides of the 256 pairs that are listed, lopsided ones, and ties
// from none to nearly all.
func TestKthDifferenceAgainstAllPairs(t *testing.T) { // counting
	g := generator(3)
	for _, size := range [][2]int{{1, 1}, {3, 4}, {16, 16}, {17, 16}, {1, 300}, {300, 1}, {2, 400}, {40, 40}, {64, 9}, {200, 300}} {
		for _, step := range []float64{0, 0.25, 1, 8} {
			x, y := sorted(draw(g, "outlier", size[0])), sorted(draw(g, "skew", size[1]))
			if step > 0 {
				x, y = rounded(x, step), rounded(y, step)
			}
			all := allDifferences(x, y)
			ranks := []int{1, 2, len(all) / 4, len(all) / 3, (len(all) + 1) / 2, len(all)/2 + 1, len(all) - 1, len(all)}
			for range 20 {
				ranks = append(ranks, 1+g.IntN(len(all)))
			}
			for _, k := range ranks {
				if k < 1 || k > len(all) {
					continue
				}
				if got := kthDifference(x, y, k); got != all[k-1] {
					t.Fatalf("%v values, grid %v: difference %d of %d is %v, want %v", size, step, k, len(all), got, all[k-1])
				}
			}
			if got, want := HodgesLehmann(y, x), -middle(all); got != want {
				t.Errorf("%v values, grid %v: HodgesLehmann = %v, want %v", size, step, got, want)
			}
		}
	}
}

// c, the rank of an interval's end, by its definition: the largest number for
// which twice the share of orderings with U <= c-1 is at most alpha.
func TestRankCriticalAgainstListing(t *testing.T) { // counting
	for m := 1; m <= 5; m++ {
		for n := 1; n <= 6; n++ {
			count := listAssignments(ascendingFrom(0, m), ascendingFrom(0.5, n))
			all := 0
			for _, c := range count {
				all += c
			}
			for _, percent := range []int{1, 5, 10, 20, 50} {
				want, sum := 0, 0
				for u := 0; ; u++ {
					if sum += count[2*u]; 200*sum > percent*all {
						break
					}
					want = u + 1
				}
				if got := rankCritical(m, n, float64(percent)/100); got != want {
					t.Errorf("%d and %d values at %d %%: c = %d, want %d", m, n, percent, got, want)
				}
			}
		}
	}
}

func TestRankIntervalReach(t *testing.T) { // counting: 2/20 and 2/70 are the smallest p
	for _, c := range []struct {
		n          int
		confidence float64
		ok         bool
	}{{3, 0.95, false}, {3, 0.9, true}, {4, 0.95, true}, {4, 0.99, false}, {5, 0.99, true}} {
		x := ascendingFrom(0, c.n)
		lo, hi, ok := RankInterval(x, x, c.confidence)
		if ok != c.ok {
			t.Errorf("%d and %d values at %v: ok = %v", c.n, c.n, c.confidence, ok)
		}
		if !ok && !(math.IsNaN(lo) && math.IsNaN(hi)) {
			t.Errorf("%d and %d values at %v: [%v, %v] though not ok", c.n, c.n, c.confidence, lo, hi)
		}
	}
	// At the floor the interval is the range of the differences.
	if lo, hi, _ := RankInterval([]float64{1, 2, 4}, []float64{7, 7.5, 9}, 0.9); lo != 3 || hi != 8 {
		t.Errorf("90 %% of 3 and 3 values is [%v, %v], want the range [3, 8]", lo, hi)
	}
	if lo, hi, ok := RankInterval([]float64{2, 2, 2, 2}, []float64{5, 5, 5, 5}, 0.95); !ok || lo != 3 || hi != 3 {
		t.Errorf("constant sides: [%v, %v], %v, want the point 3", lo, hi, ok)
	}
}

// An end of the interval is where the test changes its mind.
func TestRankIntervalInvertsTheTest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := anySides(t, 3, 20, false)
		confidence := rapid.SampledFrom([]float64{0.8, 0.9, 0.95, 0.99}).Draw(t, "confidence")
		lo, hi, ok := RankInterval(x, y, confidence)
		if !ok {
			t.Skip("no interval at these sizes")
		}
		all := allDifferences(x, y)
		for i := 1; i < len(all); i++ {
			if all[i]-all[i-1] < 1e-7 {
				t.Skip("differences too close to step between them")
			}
		}
		rejects := func(shift float64) bool {
			return MannWhitneyExact(x, moved(y, 1, -shift)).P <= 1-confidence+slack
		}
		for _, c := range []struct {
			shift float64
			want  bool
		}{{lo - 1e-8, true}, {lo + 1e-8, false}, {hi - 1e-8, false}, {hi + 1e-8, true}} {
			if lo == hi && !c.want {
				continue
			}
			if got := rejects(c.shift); got != c.want {
				t.Fatalf("[%v, %v]: a shift of %v is rejected: %v", lo, hi, c.shift, got)
			}
		}
	})
}

func TestEstimateProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := anySides(t, 1, 40, true)
		given := [2][]float64{slices.Clone(x), slices.Clone(y)}
		got := HodgesLehmann(x, y)
		if !slices.Equal(x, given[0]) || !slices.Equal(y, given[1]) {
			t.Fatal("the arguments were changed")
		}
		if turned := HodgesLehmann(y, x); turned != -got {
			t.Fatalf("sides swapped: %v becomes %v", got, turned)
		}
		if other := HodgesLehmann(shuffled(t, x), shuffled(t, y)); other != got {
			t.Fatalf("values in another order: %v becomes %v", got, other)
		}
		shift := rapid.Float64Range(-1000, 1000).Draw(t, "shift")
		if other := HodgesLehmann(moved(x, 1, shift), moved(y, 1, shift)); math.Abs(other-got) > 1e-9 {
			t.Fatalf("%v on both sides: %v becomes %v", shift, got, other)
		}
		if other := HodgesLehmann(x, moved(y, 1, shift)); math.Abs(other-got-shift) > 1e-9 {
			t.Fatalf("%v on one side: %v becomes %v", shift, got, other)
		}
	})
}

func BenchmarkHodgesLehmann(b *testing.B) {
	benchmarkSizes(b, func(x, y []float64) { HodgesLehmann(x, y) })
}

func BenchmarkRankInterval(b *testing.B) {
	benchmarkSizes(b, func(x, y []float64) { RankInterval(x, y, 0.95) })
}
