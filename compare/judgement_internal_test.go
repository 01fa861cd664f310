package compare

import (
	"math"
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
		if got := verdictOf(c.real, c.gain, c.lo, c.hi, c.tolerance, c.canLevel); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

func TestSettled(t *testing.T) {
	for _, v := range []Verdict{Uplift, SlightGain, Level, SlightLoss, Regression} {
		if !v.Settled() {
			t.Errorf("%s is settled", v)
		}
	}
	for _, v := range []Verdict{Noise, ""} {
		if v.Settled() {
			t.Errorf("%q is not settled", v)
		}
	}
}
