package check

import (
	"math"
	"slices"
	"testing"

	"tunegate/stats/internal/statstest"
)

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
	statstest.FullTier(t, "a simulation")
	repeats := 8000
	if statstest.RaceEnabled {
		repeats = 600
	}
	for i, sizes := range [][]int{statstest.EqualSizes(3, 3), statstest.EqualSizes(8, 3), statstest.EqualSizes(4, 10), {2, 5, 3, 4, 8}} {
		for _, shape := range []string{"normal", "skew"} {
			g := statstest.Generator(315 + uint64(i))
			var once, twice, exact int
			for range repeats {
				sessions := statstest.Clean(g, shape, sizes, 0.5)
				if _, p := SessionsApart(sessions, 1); p <= 0.005 {
					once++
				}
				if _, p := SessionsApart(sessions, 2); p <= 0.005 {
					twice++
				}
				if _, p := SessionsApart(statstest.Clean(g, shape, sizes, 0), 0); p <= 0.05 {
					exact++
				}
			}
			share := func(count int) float64 { return float64(count) / float64(repeats) }
			t.Logf("%v, %s, rho 0.5: p <= 0.005 in %.2f %% for ratio 1, %.2f %% for ratio 2; rho 0: p <= 0.05 in %.2f %% for ratio 0",
				sizes, shape, 100*share(once), 100*share(twice), 100*share(exact))
			if share(twice) > 0.01+2*statstest.StandardError(0.01, repeats) {
				t.Errorf("%v, %s: beyond ratio 2 in %.2f %% at 0.5 %%", sizes, shape, 100*share(twice))
			}
			// Exact for normal noise: at rho 0.5 the true ratio is 1, if sessions are
			// equal.
			equal := slices.Max(sizes) == slices.Min(sizes)
			if shape == "normal" && equal && math.Abs(share(once)-0.005) > 4*statstest.StandardError(0.005, repeats) {
				t.Errorf("%v: beyond ratio 1 in %.2f %% at 0.5 %%", sizes, 100*share(once))
			}
			if math.Abs(share(exact)-0.05) > 0.01+2*statstest.StandardError(0.05, repeats) {
				t.Errorf("%v, %s: F test at 5 %% in %.2f %%", sizes, shape, 100*share(exact))
			}
		}
	}
}
