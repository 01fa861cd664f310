package check

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tunegate/stats/internal/numeric"
	"tunegate/stats/internal/statstest"
)

func TestBestSplitByHand(t *testing.T) {
	// 1 2 3 | 10 11: squares within 2 + 0.5 over 3 degrees of freedom, gap 7.
	s := []float64{1, 2, 3, 10, 11}
	want := 7 / math.Sqrt(2.5/3) * math.Sqrt2
	if below, score := bestSplit(s, 0); below != 3 || math.Abs(score-want) > 1e-12 {
		t.Errorf("split after %d with %v, want 3 with %v", below, score, want)
	}
	if _, score := bestSplit(s, 1); math.Abs(score-want*6/7) > 1e-12 {
		t.Errorf("in steps of 1: %v, want %v", score, want*6/7)
	}
	// One value alone is no group.
	if below, _ := bestSplit([]float64{1, 2, 3, 50}, 0); below != 2 {
		t.Errorf("a lone value: split after %d, want 2", below)
	}
}

func TestTwoModesPoints(t *testing.T) {
	g := statstest.Generator(420)
	x := statstest.Draw(g, "normal", 30)
	slow := []int{2, 9, 17, 18, 25, 28}
	for _, i := range slow {
		x[i] += 12
	}
	for _, v := range [][]float64{x, statstest.Negated(x)} {
		if group, _, p := TwoModes([][]float64{v}); !slices.Equal(group, slow) || p > 0.001 {
			t.Errorf("group %v, p = %v, want %v", group, p, slow)
		}
	}
	// Sessions far apart, one of two runs in front: places count through all.
	sessions := [][]float64{{0, 1}, x[:10], statstest.Moved(x[10:20], 1, 90), statstest.Moved(x[20:], 1, -70)}
	want := []int{4, 11, 19, 20, 27, 30}
	if group, _, p := TwoModes(sessions); !slices.Equal(group, want) || p > 0.01 {
		t.Errorf("within sessions: group %v, p = %v, want %v", group, p, want)
	}
}

func TestTwoModesOfCoarseReadings(t *testing.T) {
	count := func(values ...float64) []float64 { // value, how often, ...
		var x []float64
		for i := 0; i < len(values); i += 2 {
			for range int(values[i+1]) {
				x = append(x, values[i])
			}
		}
		return x
	}
	for _, c := range []struct {
		x     []float64
		alarm bool
	}{
		{count(60, 12, 61, 8), false},                           // between two readings
		{count(59, 3, 60, 12, 61, 5), false},                    // one hump
		{count(16.667, 11, 16.949, 9), false},                   // the same, computed: ms a frame
		{count(30, 6, 60, 14), false},                           // two readings, so perhaps next to each other
		{count(30, 6, 59, 3, 60, 8, 61, 3), true},               // more than two: frames missed
		{count(0.1, 5, 0.1+1e-16, 5, 0.1+2e-16, 5), false},      // rounding of a constant
		{count(1e8, 2, 1e8+1, 9, 1e8+2, 7, 1e8+3, 2), false},    // large values
		{append(count(1e8, 9, 1e8+1, 9), 1e8+90, 1e8+91), true}, // and still two modes
	} {
		if _, score, p := TwoModes([][]float64{c.x}); (p <= 0.01) != c.alarm {
			t.Errorf("TwoModes(%v): score %v, p = %v, alarm wanted: %v", c.x, score, p, c.alarm)
		}
	}
	for _, s := range [][]float64{nil, {1}, {1, 2, 9}, {5, 5, 5, 5, 5}} {
		if group, score, p := TwoModes([][]float64{s}); group != nil || score != 0 || p != 1 {
			t.Errorf("TwoModes(%v) = %v, %v, %v, want nil, 0, 1", s, group, score, p)
		}
	}
}

func TestTwoModesProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := numeric.Sorted(statstest.Rounded(statstest.AnySample(t, "x", 4, 15, true), 1./1024))
		_, score := bestSplit(x, 0)
		_, other := bestSplit(numeric.Sorted(statstest.Moved(x, -4, 64)), 0)
		if math.Abs(other-score) > 1e-6*score {
			t.Errorf("score %v; turned, scaled and moved %v", score, other)
		}
	})
}

// scoreBar is the score that noise passes in the share alpha, of the noise
// that passes it most often: what simulatedP compares with, for many
// samples of one size at once.
func scoreBar(sizes []int, noises []noise, score func([]float64) float64, alpha float64, seed uint64) float64 {
	d := deviations{sizes: sizes}
	n := 0
	for _, k := range sizes {
		n += k
	}
	repeats := 10_000
	if statstest.RaceEnabled {
		repeats = 1000
	}
	x, spare, scores := make([]float64, n), make([]float64, n), make([]float64, repeats)
	bar := 0.0
	for i, draw := range noises {
		g := rand.New(rand.NewPCG(seed, uint64(i)))
		for r := range scores {
			for i := range x {
				x[i] = draw(g)
			}
			d.centre(x, spare)
			scores[r] = score(x)
		}
		bar = math.Max(bar, numeric.SelectKth(scores, int((1-alpha)*float64(repeats))))
	}
	return bar
}

func modesScoreBar(sizes []int, alpha float64) float64 {
	return scoreBar(sizes, []noise{skewedNoise, flatNoise, heavyNoise}, func(x []float64) float64 {
		slices.Sort(x)
		_, score := bestSplit(x, 0)
		return score
	}, alpha, 430)
}

func outlierScoreBar(sizes []int, alpha float64) float64 {
	return scoreBar(sizes, []noise{normalNoise, skewedNoise, heavyNoise}, func(x []float64) float64 {
		_, score := farthest(x, 0)
		return score
	}, alpha, 431)
}

// The p value must agree with a simulation of its own, for runs in sessions
// too.
func TestTwoModesAgainstSimulation(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	for i, sizes := range [][]int{{15}, {5, 5, 5}} {
		g := statstest.Generator(435 + uint64(i))
		sessions := statstest.Clean(g, "normal", sizes, 0)
		for _, s := range sessions {
			s[len(s)-1] += 7
		}
		sessions[0][0] += 7
		_, observed, p := TwoModes(sessions)
		above, below := modesScoreBar(sizes, p*0.6), modesScoreBar(sizes, math.Min(0.9, p*1.6))
		if !(p > 0.002 && p < 0.5) || observed > above || observed < below {
			t.Errorf("sessions of %v: score %v has p = %v, but simulated scores pass %v and %v in 0.6 and 1.6 times that",
				sizes, observed, p, above, below)
		}
	}
}

// The noises that both tests simulate are the unfavourable ones: others with
// one hump pass their bars no more often.
func TestFarAndModesHoldTheirLevel(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	repeats := 6000
	if statstest.RaceEnabled {
		repeats = 600
	}
	gamma := func(k int) noise {
		return func(g *rand.Rand) float64 {
			sum := 0.0
			for range k {
				sum += g.ExpFloat64()
			}
			return sum
		}
	}
	laplace := func(g *rand.Rand) float64 { return g.ExpFloat64() - g.ExpFloat64() }
	for i, n := range []int{10, 20, 60} {
		far, modes := outlierScoreBar([]int{n}, 0.01), modesScoreBar([]int{n}, 0.01)
		for name, draw := range map[string]noise{"normal": normalNoise, "exponential": skewedNoise, "uniform": flatNoise,
			"gamma of 2": gamma(2), "gamma of 4": gamma(4), "Laplace": laplace, "t5": statstest.Shapes["t5"]} {
			g := statstest.Generator(440 + uint64(i))
			x := make([]float64, n)
			var asFar, asModes int
			for range repeats {
				for i := range x {
					x[i] = draw(g)
				}
				if _, score := farthest(x, 0); score > far {
					asFar++
				}
				slices.Sort(x)
				if _, score := bestSplit(x, 0); score > modes {
					asModes++
				}
			}
			a, b := float64(asFar)/float64(repeats), float64(asModes)/float64(repeats)
			t.Logf("%d values, %s: outlier in %.2f %%, two modes in %.2f %% at 1 %%", n, name, 100*a, 100*b)
			given := 4 * statstest.StandardError(0.01, repeats) // two of the noise, two of the bar
			if a > 0.01+given || b > 0.01+given {
				t.Errorf("%d values, %s: outlier in %.2f %%, two modes in %.2f %%, want at most 1 %%", n, name, 100*a, 100*b)
			}
		}
	}
}

// One more series whose sizes have been met; what the first one costs is
// BenchmarkNulls.
func BenchmarkTwoModes(b *testing.B) {
	statstest.BenchmarkSizes(b, func(x, _ []float64) { TwoModes([][]float64{x}) })
}

// The splits that are left out are never the best one.
func TestBestSplitAgainstAllSplits(t *testing.T) {
	for _, shape := range statstest.ShapeNames {
		g := statstest.Generator(85)
		for _, n := range []int{4, 5, 9, 30, 200} {
			for try := range 100 {
				x, step := statstest.Draw(g, shape, n), 0.0
				if try%3 == 1 {
					step = 0.25
				}
				if try%4 == 1 { // two far groups
					for i := range x[:n/3] {
						x[i] += math.Pow(10, float64(g.IntN(9)))
					}
				}
				if step > 0 {
					x = statstest.Rounded(x, step)
				}
				s := numeric.Sorted(x)
				best, at := 0.0, 0
				for k := 2; k <= n-2; k++ {
					squares := numeric.Variance(s[:k])*float64(k-1) + numeric.Variance(s[k:])*float64(n-k-1)
					sd := math.Sqrt(math.Max(squares/float64(n-2), math.Max(step*step/12, 1e-14*numeric.Variance(s)*float64(n-1))))
					if got := (s[k] - s[k-1] - step) / sd * math.Sqrt(math.Min(float64(k), float64(n-k))); got > best {
						best, at = got, k
					}
				}
				below, score := bestSplit(s, step)
				if math.Abs(score-best) > 1e-4*best || below != at && math.Abs(score-best) > 1e-9*best {
					t.Fatalf("%s: split at %d with %v, want %d with %v: %v", shape, below, score, at, best, s)
				}
			}
		}
	}
}
