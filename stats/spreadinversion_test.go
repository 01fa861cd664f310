package stats

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

// By counting. 5 and 5 values: 4 of 252 orderings have U of at most 2, 7 of at
// most 3, so two-sided levels are 8/252 and 14/252, and 5 % are 12.6/252. 4 and
// 4: 2/70, 4/70, 3.5/70. 3 and 3 at 90 %: 2/20 to the dot.
func TestInterpolatedCritical(t *testing.T) {
	for _, c := range []struct {
		m, n  int
		alpha float64
		want  float64
	}{
		{5, 5, 0.05, 3 + 4.6/6},
		{4, 4, 0.05, 1.75},
		{3, 3, 0.1, 1},
		{3, 3, 1 - 0.9, 1},
		{3, 3, 0.05, 0},
	} {
		if got := InterpolatedRankCritical(c.m, c.n, c.alpha); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%d and %d at %v: %v, want %v", c.m, c.n, c.alpha, got, c.want)
		}
	}
	// The limit takes over without a step.
	if a, b := InterpolatedRankCritical(270, 270, 0.05), normalCritical(270, 270, 0.05); math.Abs(a-b) > 2 {
		t.Errorf("270 and 270: %v exactly, %v in the limit", a, b)
	}
}

// By hand. Moved by their median difference of 0.1, y = 1.1 2.1 3.1 are x = 1 2 3:
// placements of 1/2, 3/2 and 5/2 on both sides, V is 4, which is less than V0 =
// 9 * 7 / 12.
func TestSpreadFactor(t *testing.T) {
	if got := SpreadFactor([]float64{1, 2, 3}, []float64{1.1, 2.1, 3.1}, 0.95); got != 1 {
		t.Errorf("equal spreads: %v", got)
	}
	// All of x = -1 0 1 twice lie between y = -9 and 9: placements 1 of six x, 0 and
	// 6 of two y. V = 18, V0 = 12 * 9 / 12 = 9. Welch's degrees of freedom are
	// nearly the one of y, those of both together 6.
	x, y := []float64{-1, -1, 0, 0, 1, 1}, []float64{-9, 9}
	_, _, df, ok := numeric.Welch(x, y)
	want := math.Sqrt(2 * numeric.StudentQuantile(0.975, df) / 2.446912)
	if got := SpreadFactor(x, y, 0.95); !ok || df > 1.01 || math.Abs(got-want) > 1e-6 {
		t.Errorf("two noisy values: %v, want %v; %v degrees of freedom", got, want, df)
	}
	for _, c := range [][2][]float64{{{2, 2, 2}, {5, 5}}, {{-1e200, 0, 1e200}, {0, 1}}} {
		if got := SpreadFactor(c[0], c[1], 0.95); got != 1 {
			t.Errorf("%v and %v: %v, want 1", c[0], c[1], got)
		}
	}
}

func TestSpreadInversionProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := statstest.AnySides(t, 4, 20, true)
		lo, hi, ok := SpreadInversion(x, y, 0.95)
		if !ok {
			t.Fatal("not ok")
		}
		// It holds what the exact test at its next level holds, and the estimate.
		d := statstest.AllDifferences(x, y)
		next := int(math.Ceil(InterpolatedRankCritical(len(x), len(y), 0.05)))
		if lo > d[next-1] || hi < d[len(d)-next] {
			t.Fatalf("[%v, %v] does not hold [%v, %v]", lo, hi, d[next-1], d[len(d)-next])
		}
		if e := HodgesLehmann(x, y); e < lo || e > hi {
			t.Fatalf("the estimate %v lies outside [%v, %v]", e, lo, hi)
		}
		// A unit that is a power of two changes no digit.
		if slo, shi, _ := SpreadInversion(statstest.Moved(x, 1024, 0), statstest.Moved(y, 1024, 0), 0.95); slo != 1024*lo || shi != 1024*hi {
			t.Fatalf("in another unit [%v, %v], want 1024 times [%v, %v]", slo, shi, lo, hi)
		}
		if wlo, whi, _ := SpreadInversion(x, y, 0.99); wlo > lo || whi < hi {
			t.Fatalf("99 %%: [%v, %v] within 95 %%: [%v, %v]", wlo, whi, lo, hi)
		}
	})
}

func TestSpreadInversionEdges(t *testing.T) {
	for _, c := range [][2][]float64{{{1}, {1, 2}}, {nil, {1, 2}}, {{1, 2, 3}, {4, 5, 6}}} {
		if lo, hi, ok := SpreadInversion(c[0], c[1], 0.95); ok || !math.IsNaN(lo) || !math.IsNaN(hi) {
			t.Errorf("%v and %v: [%v, %v], %v", c[0], c[1], lo, hi, ok)
		}
	}
}

// Where the interval leaves out 0 and the exact test keeps it, the interval ends
// there: with 5 and 5 values at U = 3, of which p is 14/252.
func TestChangeIntervalEndsAt0(t *testing.T) {
	g := statstest.Generator(19)
	ends := 0
	for r := range 800 {
		x, y := statstest.Draw(g, "normal", 5), statstest.Moved(statstest.Draw(g, "normal", 5), 1, 1.5)
		in, _ := ChangeInterval(x, y, 0.95, 200, uint64(r))
		if in.Lo == 0 || in.Hi == 0 {
			ends++
			if p := MannWhitney(x, y).PUsed; math.Abs(p-14./252) > 1e-12 {
				t.Errorf("an end at 0 with p = %v", p)
			}
		}
	}
	if ends < 8 {
		t.Errorf("%d of 800 ended at 0", ends)
	}
}

// Coverage far from 0, where the test has no say, of unequal spreads, and what
// it costs: the mean width over Student's on Welch's degrees of freedom. With
// 1,000 repetitions the standard error at 95 % is 0.7 points.
func TestChangeIntervalFarFrom0(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	n, given := repetitions()
	n /= 2
	for i, shape := range statstest.ShapeNames {
		for _, c := range []struct {
			m, n        int
			spread      float64
			least, most float64 // times as wide as Welch's, in normal noise
		}{{5, 5, 1, 0.95, 1.1}, {8, 8, 1, 0.95, 1.1}, {5, 5, 2, 0.95, 1.1}, {15, 15, 2, 0.95, 1.12}, {20, 5, 2, 0.9, 1.12}} {
			g := statstest.Generator(1900 + uint64(10*i+c.m+c.n))
			truth := 0.0
			if c.spread != 1 {
				truth = HodgesLehmann(statstest.Draw(g, shape, 50_000), statstest.Moved(statstest.Draw(g, shape, 50_000), c.spread, 0))
			}
			var covered, width, student float64
			for r := range n {
				x, y := statstest.Draw(g, shape, c.m), statstest.Moved(statstest.Draw(g, shape, c.n), c.spread, 100)
				in, ok := ChangeInterval(x, y, 0.95, simulatedResamples, uint64(r))
				if ok && in.Lo <= 100+truth && 100+truth <= in.Hi {
					covered += 1 / float64(n)
				}
				_, _, df, _ := numeric.Welch(x, y)
				width += in.Hi - in.Lo
				student += 2 * numeric.StudentQuantile(0.975, df) * math.Sqrt(numeric.Variance(x)/float64(c.m)+numeric.Variance(y)/float64(c.n))
			}
			ratio := width / student
			t.Logf("%-8s %2d and %2d, spreads 1:%v: covers %.1f %%, %.2f times as wide as Welch's", shape, c.m, c.n, c.spread, 100*covered, ratio)
			if least := 0.94; covered < least-(given+1)*statstest.StandardError(least, n) || covered > 0.98+given*statstest.StandardError(0.98, n) {
				t.Errorf("%s, %d and %d, spreads 1:%v: covers %.1f %%", shape, c.m, c.n, c.spread, 100*covered)
			}
			if shape == "normal" && (ratio < c.least || ratio > c.most) {
				t.Errorf("%d and %d, spreads 1:%v: %.2f times as wide as Welch's", c.m, c.n, c.spread, ratio)
			}
		}
	}
}
