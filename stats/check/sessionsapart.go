package check

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"tunegate/stats/internal/numeric"
)

// SessionsApart tests whether sessions differ by more than ratio times the
// variance that runs of one session have: F = MSB / (MSW (1 + n0 ratio)) on
// k - 1 and N - k degrees of freedom, with n0 of VarianceComponents; p is the
// upper tail. With ratio 0 it is the F test of a one-way analysis of variance.
// For larger ratios it is exact for normal noise and equal sessions (Searle,
// Casella and McCulloch 1992, section 3.6); skewed noise raises its level:
// where sessions and runs have exponential noise of equal variance, 0.005
// became at most 0.036 for ratio 1 and 0.01 for ratio 2 (3 to 8 sessions of 2
// to 10 runs).
// Readings are rounded to a step, as of resolution; MSW counts at least as the
// variance of that rounding, step^2/12. It returns 0 and 1 below two sessions, where no session
// has two runs, and where all values are the same.
func SessionsApart(sessions [][]float64, ratio float64) (f, p float64) {
	m := numeric.OneWay(sessions)
	if math.IsNaN(m.Within) || math.IsNaN(m.Between) || m.Between == 0 {
		return 0, 1
	}
	step := resolution(sessions...)
	f = m.Between / math.Max(m.Within, step*step/12) / (1 + m.EffectiveSize*ratio)
	return f, mathext.RegIncBeta(m.WithinDF/2, m.BetweenDF/2, m.WithinDF/(m.WithinDF+m.BetweenDF*f))
}
