package compare

import (
	"math"
	"slices"
	"testing"
)

// The table of verdicts, row by row, with the borders.
func TestJudge(t *testing.T) {
	const tol = 0.005
	above, below := math.Nextafter(tol, 1), math.Nextafter(tol, 0)
	for _, c := range []struct {
		name         string
		real         bool
		gain, lo, hi float64
		tolerance    float64
		canLevel     bool
		want         Verdict
	}{
		{"real, beyond the tolerance", true, 0.02, 0.01, 0.03, tol, true, Uplift},
		{"real, just beyond", true, above, 0.001, 0.01, tol, true, Uplift},
		{"real, exactly the tolerance", true, tol, 0.001, 0.01, tol, true, SlightGain},
		{"real, just below", true, below, 0.001, 0.01, tol, true, SlightGain},
		{"real, next to nothing", true, 1e-12, 1e-13, 2e-12, tol, true, SlightGain},
		{"real, no tolerance", true, 1e-12, 1e-13, 2e-12, 0, true, Uplift},
		{"real loss, exactly the tolerance", true, -tol, -0.01, -0.001, tol, true, SlightLoss},
		{"real loss, just inside", true, -below, -0.01, -0.001, tol, true, SlightLoss},
		{"real loss, just beyond", true, -above, -0.01, -0.001, tol, true, Regression},
		{"real loss, no tolerance", true, -1e-12, -2e-12, -1e-13, 0, true, Regression},
		// A slight change that is real is said to be one, though it is within
		// the tolerance as a whole.
		{"real and within the tolerance", true, 0.001, 0.0005, 0.002, tol, true, SlightGain},
		{"real loss within the tolerance", true, -0.001, -0.002, -0.0005, tol, true, SlightLoss},
		{"level", false, 0, -0.002, 0.002, tol, true, Level},
		{"level, ends on the tolerance", false, 0, -tol, tol, tol, true, Level},
		{"low end out", false, 0, -above, tol, tol, true, Noise},
		{"high end out", false, 0, -tol, above, tol, true, Noise},
		{"too few values for level", false, 0, -0.002, 0.002, tol, false, Noise},
		{"no tolerance, no level", false, 0, 0, 0, 0, true, Noise},
		{"no interval", false, 0.02, math.Inf(-1), math.Inf(1), tol, true, Noise},
		{"not real, beyond the tolerance", false, 0.02, -0.01, 0.05, tol, true, Noise},
		{"no change at all, called real", true, 0, -0.001, 0.001, tol, true, Level},
	} {
		if got := verdictOf(Score, c.real, c.gain, [2]float64{c.lo, c.hi}, c.tolerance, c.canLevel); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
		ofCost := map[Verdict]Verdict{Uplift: Rise, SlightGain: SlightRise, SlightLoss: SlightFall, Regression: Fall, Level: Level, Noise: Noise}
		if got := verdictOf(Cost, c.real, c.gain, [2]float64{c.lo, c.hi}, c.tolerance, c.canLevel); got != ofCost[c.want] {
			t.Errorf("%s, of a cost: %s, want %s", c.name, got, ofCost[c.want])
		}
	}
}

// A change that is good news never fails, nor does one within the tolerance.
func TestHarmful(t *testing.T) {
	for _, c := range []struct {
		role   Role
		better Better
		want   []Verdict
	}{
		{Score, Higher, []Verdict{Regression}}, {Score, Lower, []Verdict{Regression}},
		{Cost, Lower, []Verdict{Rise}}, {Cost, Higher, []Verdict{Fall}},
	} {
		all := []Verdict{Uplift, SlightGain, Level, Noise, SlightLoss, Regression}
		if c.role == Cost {
			all = []Verdict{Rise, SlightRise, Level, Noise, SlightFall, Fall}
		}
		for _, v := range all {
			r := &Result{Measurement: &Measurement{Pair: &Pair{Metric: Metric{Role: c.role, Better: c.better}}}, Judgement: Judgement{Verdict: &v}}
			if r.Harmful() != slices.Contains(c.want, v) {
				t.Errorf("%s, better %s: %s is harmful: %v", c.role, c.better, v, r.Harmful())
			}
		}
	}
	if (&Result{}).Harmful() {
		t.Error("an info is never harmful")
	}
}

// A hint is an own p of at most 0.10, from 3 and 3 values on, that settles nothing.
func TestHint(t *testing.T) {
	tolerance := 0.005
	of := func(p float64, before, after int) Verdict {
		m := &Measurement{Pair: &Pair{Metric: Metric{Role: Score, Tolerance: &tolerance}}, Change: 0.02, Interval: &[2]float64{-0.01, 0.05},
			PUsed: p, Replicates: [2]int{before, after}}
		return m.VerdictOf(false, true)
	}
	for _, c := range []struct {
		p             float64
		before, after int
		want          Verdict
	}{{0.1, 3, 3, Hint}, {0.100001, 3, 3, Noise}, {0.03, 2, 40, Noise}, {0.03, 3, 40, Hint}} {
		if got := of(c.p, c.before, c.after); got != c.want {
			t.Errorf("p %v of %d and %d: %s, want %s", c.p, c.before, c.after, got, c.want)
		}
	}
}

func TestSettled(t *testing.T) {
	for _, v := range []Verdict{Uplift, SlightGain, Level, SlightLoss, Regression, Rise, SlightRise, SlightFall, Fall} {
		if !v.Settled() {
			t.Errorf("%s is settled", v)
		}
	}
	for _, v := range []Verdict{Noise, Hint, ""} {
		if v.Settled() {
			t.Errorf("%q is not settled", v)
		}
	}
}
