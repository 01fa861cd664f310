package plan

import (
	"math"
	"testing"

	"tunegate/stats/internal/statstest"
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

// Estimates over many data sets average to the truth, sessions of any sizes
// (that mean squares are unbiased: Searle, Casella and McCulloch 1992). With
// sessions enough the truncation at 0 does nothing.
func TestVarianceComponentsUnbiased(t *testing.T) {
	statstest.FullTier(t, "a simulation")
	g := statstest.Generator(310)
	sizes := []int{1, 2, 3, 5, 8, 13, 1, 2, 3, 5, 8, 13}
	var between, within float64
	const repeats = 4000
	for range repeats {
		b, w := VarianceComponents(statstest.Clean(g, "normal", sizes, 0.8))
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
		if !statstest.Panics(func() { RunsPerSession(c[0], c[1], c[2], c[3]) }) {
			t.Errorf("RunsPerSession%v does not panic", c)
		}
	}
}
