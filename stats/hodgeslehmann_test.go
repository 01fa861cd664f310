package stats

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
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
	if !statstest.Panics(func() { HodgesLehmann(nil, []float64{1}) }) || !statstest.Panics(func() { HodgesLehmann([]float64{1}, nil) }) {
		t.Error("no panic for an empty side")
	}
}

// c, the rank of an interval's end, by its definition: the largest number for
// which twice the share of orderings with U <= c-1 is at most alpha.
func TestRankCriticalAgainstListing(t *testing.T) { // counting
	for m := 1; m <= 5; m++ {
		for n := 1; n <= 6; n++ {
			count := listAssignments(statstest.AscendingFrom(0, m), statstest.AscendingFrom(0.5, n))
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
				if got := RankCritical(m, n, float64(percent)/100); got != want {
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
		x := statstest.AscendingFrom(0, c.n)
		lo, hi, ok := rankInterval(x, x, c.confidence)
		if ok != c.ok {
			t.Errorf("%d and %d values at %v: ok = %v", c.n, c.n, c.confidence, ok)
		}
		if !ok && !(math.IsNaN(lo) && math.IsNaN(hi)) {
			t.Errorf("%d and %d values at %v: [%v, %v] though not ok", c.n, c.n, c.confidence, lo, hi)
		}
	}
	// At the floor the interval is the range of the differences.
	if lo, hi, _ := rankInterval([]float64{1, 2, 4}, []float64{7, 7.5, 9}, 0.9); lo != 3 || hi != 8 {
		t.Errorf("90 %% of 3 and 3 values is [%v, %v], want the range [3, 8]", lo, hi)
	}
	if lo, hi, ok := rankInterval([]float64{2, 2, 2, 2}, []float64{5, 5, 5, 5}, 0.95); !ok || lo != 3 || hi != 3 {
		t.Errorf("constant sides: [%v, %v], %v, want the point 3", lo, hi, ok)
	}
}

// An end of the interval is where the test changes its mind.
func TestRankIntervalInvertsTheTest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := statstest.AnySides(t, 3, 20, false)
		confidence := rapid.SampledFrom([]float64{0.8, 0.9, 0.95, 0.99}).Draw(t, "confidence")
		lo, hi, ok := rankInterval(x, y, confidence)
		if !ok {
			t.Skip("no interval at these sizes")
		}
		all := statstest.AllDifferences(x, y)
		for i := 1; i < len(all); i++ {
			if all[i]-all[i-1] < 1e-7 {
				t.Skip("differences too close to step between them")
			}
		}
		rejects := func(shift float64) bool {
			return mannWhitneyExact(x, statstest.Moved(y, 1, -shift)).P <= 1-confidence+numeric.Slack
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
		x, y := statstest.AnySides(t, 1, 40, true)
		given := [2][]float64{slices.Clone(x), slices.Clone(y)}
		got := HodgesLehmann(x, y)
		if !slices.Equal(x, given[0]) || !slices.Equal(y, given[1]) {
			t.Fatal("the arguments were changed")
		}
		if turned := HodgesLehmann(y, x); turned != -got {
			t.Fatalf("sides swapped: %v becomes %v", got, turned)
		}
		if other := HodgesLehmann(statstest.Shuffled(t, x), statstest.Shuffled(t, y)); other != got {
			t.Fatalf("values in another order: %v becomes %v", got, other)
		}
		shift := rapid.Float64Range(-1000, 1000).Draw(t, "shift")
		if other := HodgesLehmann(statstest.Moved(x, 1, shift), statstest.Moved(y, 1, shift)); math.Abs(other-got) > 1e-9 {
			t.Fatalf("%v on both sides: %v becomes %v", shift, got, other)
		}
		if other := HodgesLehmann(x, statstest.Moved(y, 1, shift)); math.Abs(other-got-shift) > 1e-9 {
			t.Fatalf("%v on one side: %v becomes %v", shift, got, other)
		}
	})
}

func BenchmarkHodgesLehmann(b *testing.B) {
	statstest.BenchmarkSizes(b, func(x, y []float64) { HodgesLehmann(x, y) })
}

func BenchmarkRankInterval(b *testing.B) {
	statstest.BenchmarkSizes(b, func(x, y []float64) { rankInterval(x, y, 0.95) })
}

// rankInterval inverts the two-sided rank test: it holds every shift that the
// test without ties would not reject. The ends are the c-th smallest and the
// c-th largest difference after - before, with c the largest number for which
// 2 P(U <= c-1) is at most 1 - confidence (Hollander and Wolfe 1973, section
// 4.3). ok is false where no shift can be rejected.
func rankInterval(before, after []float64, confidence float64) (lo, hi float64, ok bool) {
	m, n := len(before), len(after)
	c := RankCritical(m, n, 1-confidence)
	if c < 1 {
		return math.NaN(), math.NaN(), false
	}
	x, y := numeric.Sorted(before), numeric.Sorted(after)
	return numeric.KthDifference(x, y, c), numeric.KthDifference(x, y, m*n+1-c), true
}
