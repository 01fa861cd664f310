package stats

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestVarianceComponentsByHand(t *testing.T) {
	for _, c := range []struct {
		sessions        [][]float64
		between, within float64
	}{
		// Means 2 and 6 about 4: MSB = 3 (4 + 4) / 1 = 24, MSW = (2 + 2) / 4 = 1,
		// n0 = 3.
		{[][]float64{{1, 2, 3}, {5, 6, 7}}, 23. / 3, 1},
		// Means 1 and 4 about 2: MSB = 4 * 1 + 2 * 4 = 12, MSW = (4 + 2) / 4 = 1.5,
		// n0 = 6 - (16 + 4) / 6 = 8/3.
		{[][]float64{{0, 0, 2, 2}, {3, 5}}, 10.5 / (8. / 3), 1.5},
		{[][]float64{{1, 3}, {3, 1}, {2, 2}}, 0, 4. / 3}, // equal means
		{[][]float64{{7, 7}, {7, 7}}, 0, 0},
		{[][]float64{{1, 1}, {}, {2, 2}}, 0.5, 0}, // MSB = 4 / 4 = 1, n0 = 2
	} {
		between, within := VarianceComponents(c.sessions)
		if math.Abs(between-c.between) > 1e-12 || math.Abs(within-c.within) > 1e-12 {
			t.Errorf("%v: components %v and %v, want %v and %v", c.sessions, between, within, c.between, c.within)
		}
	}
	if between, within := VarianceComponents([][]float64{{1, 2, 3}}); !math.IsNaN(between) || within != 1 {
		t.Errorf("one session: %v and %v, want NaN and 1", between, within)
	}
	for _, s := range [][][]float64{nil, {{}}, {{1}, {2}, {3}}} {
		if between, within := VarianceComponents(s); !math.IsNaN(between) || !math.IsNaN(within) {
			t.Errorf("%v: %v and %v, want NaN", s, between, within)
		}
	}
}

// clean draws sessions without a fault: noise of variance 1 in each run, and a
// share rho of the whole variance between sessions. Values are as of a
// benchmark that takes 412.371 s.
func clean(r *rand.Rand, shape string, sizes []int, rho float64) [][]float64 {
	sessions := make([][]float64, len(sizes))
	for i, n := range sizes {
		luck := math.Sqrt(rho/(1-rho)) * shapes[shape](r)
		sessions[i] = rounded(moved(draw(r, shape, n), 1, 412+luck), 0.001)
	}
	return sessions
}

func equalSizes(sessions, runs int) []int {
	sizes := make([]int, sessions)
	for i := range sizes {
		sizes[i] = runs
	}
	return sizes
}

// Estimates over many data sets average to the truth, sessions of any sizes
// (that mean squares are unbiased: Searle, Casella and McCulloch 1992). With
// sessions enough the truncation at 0 does nothing.
func TestVarianceComponentsUnbiased(t *testing.T) {
	g := generator(310)
	sizes := []int{1, 2, 3, 5, 8, 13, 1, 2, 3, 5, 8, 13}
	var between, within float64
	const repeats = 4000
	for range repeats {
		b, w := VarianceComponents(clean(g, "normal", sizes, 0.8))
		between, within = between+b/repeats, within+w/repeats
	}
	// Standard errors: 4 sqrt(2/11) / 63 for between, sqrt(2/52) / 63 for within.
	if math.Abs(between-4) > 0.1 || math.Abs(within-1) > 0.012 {
		t.Errorf("components average %.3f and %.3f, want 4 and 1", between, within)
	}
}

// No other number of runs brings the variance of the mean lower for the same
// bench time.
func TestRunsPerSessionIsCheapest(t *testing.T) {
	for _, c := range [][4]float64{{1, 1, 10, 2}, {0.3, 4, 5, 5}, {2, 0.1, 1, 8}, {0.5, 0.5, 0, 1}} {
		between, within, session, run := c[0], c[1], c[2], c[3]
		cost := func(m float64) float64 { return (between + within/m) * (session + run*m) } // variance times time
		m := RunsPerSession(between, within, session, run)
		if want := math.Sqrt(session/run) * math.Sqrt(within/between); math.Abs(m-want) > 1e-12 { // Cochran 1977
			t.Errorf("%v: %v runs a session, want %v", c, m, want)
		}
		for _, by := range []float64{0.5, 0.9, 0.99, 1.01, 1.1, 2} {
			if session > 0 && cost(m*by) < cost(m) {
				t.Errorf("%v: %v runs a session cost less than %v", c, m*by, m)
			}
		}
	}
	if got := RunsPerSession(0, 1, 5, 1); !math.IsInf(got, 1) {
		t.Errorf("sessions that do not differ: %v runs, want as many as there is time for", got)
	}
	for _, between := range []float64{0, 1} {
		if got := RunsPerSession(between, 0, 5, 1); got != 0 {
			t.Errorf("runs that do not differ: %v runs, want 0", got)
		}
	}
	for _, c := range [][4]float64{{-1, 1, 1, 1}, {1, -1, 1, 1}, {1, 1, -1, 1}, {1, 1, 1, 0}, {math.NaN(), 1, 1, 1}} {
		if !panics(func() { RunsPerSession(c[0], c[1], c[2], c[3]) }) {
			t.Errorf("RunsPerSession%v does not panic", c)
		}
	}
}

func TestSessionsApartEdges(t *testing.T) {
	for _, s := range [][][]float64{nil, {{1, 2, 3}}, {{1}, {2}}, {{5, 5}, {5, 5}}, {{1, 3}, {3, 1}}} {
		if f, p := SessionsApart(s, 0); f != 0 || p != 1 {
			t.Errorf("SessionsApart(%v) = %v, %v, want 0 and 1", s, f, p)
		}
	}
	// Readings in whole numbers: runs of a session agree, as they would if each
	// lay a quarter to one side of a half. That is not "far apart".
	if _, p := SessionsApart([][]float64{{60, 60, 60}, {61, 61, 61}, {60, 60, 60}, {61, 61, 61}}, 2); p < 0.05 {
		t.Errorf("one step of rounding between sessions: p = %v", p)
	}
	if _, p := SessionsApart([][]float64{{60, 60, 60}, {75, 75, 75}, {60, 60, 60}, {61, 61, 61}}, 2); p > 1e-4 {
		t.Errorf("15 steps between sessions of constant runs: p = %v", p)
	}
}

// Sessions that differ as much as their runs do (rho 0.5) are not far apart,
// in skewed noise either; those that do not differ at all even less.
func TestSessionsApartLevel(t *testing.T) {
	repeats := 8000
	if raceEnabled {
		repeats = 600
	}
	for i, sizes := range [][]int{equalSizes(3, 3), equalSizes(8, 3), equalSizes(4, 10), {2, 5, 3, 4, 8}} {
		for _, shape := range []string{"normal", "skew"} {
			g := generator(315 + uint64(i))
			var once, twice, exact int
			for range repeats {
				sessions := clean(g, shape, sizes, 0.5)
				if _, p := SessionsApart(sessions, 1); p <= 0.005 {
					once++
				}
				if _, p := SessionsApart(sessions, 2); p <= 0.005 {
					twice++
				}
				if _, p := SessionsApart(clean(g, shape, sizes, 0), 0); p <= 0.05 {
					exact++
				}
			}
			share := func(count int) float64 { return float64(count) / float64(repeats) }
			t.Logf("%v, %s, rho 0.5: p <= 0.005 in %.2f %% for ratio 1, %.2f %% for ratio 2; rho 0: p <= 0.05 in %.2f %% for ratio 0",
				sizes, shape, 100*share(once), 100*share(twice), 100*share(exact))
			if share(twice) > 0.01+2*standardError(0.01, repeats) {
				t.Errorf("%v, %s: beyond ratio 2 in %.2f %% at 0.5 %%", sizes, shape, 100*share(twice))
			}
			// Exact for normal noise: at rho 0.5 the true ratio is 1, if sessions are
			// equal.
			if equal := slices.Max(sizes) == slices.Min(sizes); shape == "normal" && equal && math.Abs(share(once)-0.005) > 4*standardError(0.005, repeats) {
				t.Errorf("%v: beyond ratio 1 in %.2f %% at 0.5 %%", sizes, 100*share(once))
			}
			if math.Abs(share(exact)-0.05) > 0.01+2*standardError(0.05, repeats) {
				t.Errorf("%v, %s: F test at 5 %% in %.2f %%", sizes, shape, 100*share(exact))
			}
		}
	}
}
