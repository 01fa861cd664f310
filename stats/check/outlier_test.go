package check

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/statstest"
)

func TestFarthestByHand(t *testing.T) {
	// Without 20: mean 5, sum of squares 10, so sd = sqrt(10/4); no skewness.
	x := []float64{3, 20, 4, 5, 6, 7}
	if at, score := farthest(x, 0); at != 1 || math.Abs(score-15/math.Sqrt(2.5)) > 1e-12 {
		t.Errorf("farthest %d with %v, want 1 with %v", at, score, 15/math.Sqrt(2.5))
	}
	if _, score := farthest(x, 1); math.Abs(score-14/math.Sqrt(2.5)) > 1e-12 {
		t.Errorf("in steps of 1: %v, want %v", score, 14/math.Sqrt(2.5))
	}
	// Without 12: 0 0 0 4 has mean 1, squares 12, cubes 24, so the moment
	// coefficient of skewness is (24/4) / (12/4)^1.5 and sd = 2.
	g := 6 / math.Pow(3, 1.5)
	if at, score := farthest([]float64{0, 0, 12, 0, 4}, 0); at != 2 || math.Abs(score-11/(2*(1+1.25*g))) > 1e-12 {
		t.Errorf("skewed: farthest %d with %v, want 2 with %v", at, score, 11/(2*(1+1.25*g)))
	}
	// The same turned over: skewed towards the low one.
	if at, score := farthest([]float64{0, 0, -12, 0, -4}, 0); at != 2 || math.Abs(score-11/(2*(1+1.25*g))) > 1e-12 {
		t.Errorf("turned over: farthest %d with %v", at, score)
	}
	// Without 13: -3, 3 and eight times 0 have sd = sqrt(18/9) and kurtosis (162/10) /
	// (18/10)^2 = 5, which is 2 more than normal noise has.
	if at, score := farthest([]float64{-3, 0, 0, 0, 0, 13, 0, 0, 0, 0, 3}, 0); at != 5 || math.Abs(score-13/(math.Sqrt2*(1+0.8*2))) > 1e-12 {
		t.Errorf("long tails: farthest %d with %v", at, score)
	}
}

func TestFarRatioByHand(t *testing.T) {
	x := []float64{3, 20, 4, 5, 6, 7, 1} // median 5
	if at, ratio := farRatio(x, 0); at != 1 || ratio != 15.0/4 {
		t.Errorf("farthest %d with %v, want 1 with 3.75", at, ratio)
	}
	if at, ratio := farRatio(x, 1); at != 1 || ratio != 14.0/4 {
		t.Errorf("in steps of 1: %d with %v, want 1 with 3.5", at, ratio)
	}
	if _, ratio := farRatio([]float64{60, 61, 60, 60}, 1); ratio != 0 {
		t.Errorf("one step off: %v, want 0", ratio)
	}
}

func TestOutlierTestPoints(t *testing.T) {
	g := statstest.Generator(400)
	sessions := statstest.Clean(g, "normal", []int{2, 12, 1, 12}, 0.9)
	sessions[3][4] += 15
	if at, _, p := Outlier(sessions); at != 2+12+1+4 || p > 0.01 {
		t.Errorf("value 4 of session 3 is off: at = %d, p = %v, want 19 and a small p", at, p)
	}
}

func TestOutlierTestOfCoarseReadings(t *testing.T) {
	// One step off is no outlier, however still the others stand.
	sixty := make([]float64, 20)
	for i := range sixty {
		sixty[i] = 60
	}
	for by, alarm := range map[float64]bool{0: false, 1: false, 2: false, 20: true} {
		x := slices.Clone(sixty)
		x[7] += by
		if at, _, p := Outlier([][]float64{x}); p != 1 { // two readings, so perhaps next to each other
			t.Errorf("%v frames off constant ones: at = %d, p = %v", by, at, p)
		}
		x[3], x[12] = 59, 61
		if at, _, p := Outlier([][]float64{x}); (p <= 0.01) != alarm || alarm && at != 7 {
			t.Errorf("%v frames off: at = %d, p = %v", by, at, p)
		}
	}
	for _, s := range [][]float64{nil, {1}, {1, 2, 9}, {5, 5, 5, 5, 5}} {
		if at, score, p := Outlier([][]float64{s}); at != 0 || score != 0 || p != 1 {
			t.Errorf("Outlier(%v) = %d, %v, %v, want 0, 0, 1", s, at, score, p)
		}
	}
}

func TestOutlierTestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := statstest.Rounded(statstest.AnySample(t, "x", 4, 12, true), 1./1024)
		at, score := farthest(x, 0)
		at2, s := farthest(statstest.Moved(x, -4, 64), 0)
		if math.Abs(s-score) > 1e-9*score || at2 != at && math.Abs(farScore(x, at2, 0)-score) > 1e-9*score {
			t.Errorf("farthest %d with %v; turned, scaled and moved: %d with %v", at, score, at2, s)
		}
	})
}

// The p value must agree with a simulation of its own.
func TestOutlierTestAgainstSimulation(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	g := statstest.Generator(410)
	x := statstest.Draw(g, "normal", 15)
	x[3] = 6
	_, observed, p := Outlier([][]float64{x})
	const repeats = 20_000
	want := 0.0
	for _, shape := range []string{"normal", "skew", "t5"} {
		beyond := 0
		for range repeats {
			if _, score := farthest(statstest.Draw(g, shape, len(x)), 0); score >= observed {
				beyond++
			}
		}
		want = math.Max(want, float64(beyond)/repeats)
	}
	if math.Abs(p/want-1) > 0.5 || want < 0.005 || want > 0.2 {
		t.Errorf("p = %v, simulated %v", p, want)
	}
}

// The score of drawn values comes out of sums over all of them, that of
// observed ones out of the others one by one.
func TestFarthestDrawn(t *testing.T) {
	for _, shape := range statstest.ShapeNames {
		g := statstest.Generator(78)
		for _, n := range []int{4, 5, 10, 30, 1000} {
			for range 200 {
				x := statstest.Draw(g, shape, n)
				_, want := farthest(x, 0)
				if got := farthestDrawn(x); math.Abs(got/want-1) > 1e-9 {
					t.Fatalf("%s, %d values: score %v, one by one %v", shape, n, got, want)
				}
			}
		}
	}
	if got := farthestDrawn([]float64{2, 2, 2, 2}); got != 0 {
		t.Errorf("score %v of one value, want 0", got)
	}
}

func BenchmarkOutlierTest(b *testing.B) {
	statstest.BenchmarkSizes(b, func(x, _ []float64) { Outlier([][]float64{x}) })
}
