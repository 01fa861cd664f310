package plan

import (
	"math"

	"tunegate/stats/internal/numeric"
)

// VarianceComponents splits the variance of runs into what sessions differ by
// and what runs of one session differ by, from the mean squares of a one-way
// analysis of variance. With N runs in k sessions of n_i runs
//
//	within  = MSW
//	between = (MSB - MSW) / n0, at least 0
//	n0      = (N - sum of n_i^2 / N) / (k - 1)
//
// (the method of moments for unequal sessions; Searle, Casella and McCulloch
// 1992, Variance Components, section 3.6; n0 = n where all have n runs). The
// sum of both is the variance of one run of a new session. Sessions without
// values are ignored. within is NaN where no session has two runs, between is
// NaN there and below two sessions.
func VarianceComponents(sessions [][]float64) (between, within float64) {
	m := numeric.OneWay(sessions)
	return math.Max(0, (m.Between-m.Within)/m.EffectiveSize), m.Within
}

// RunsPerSession returns the number of runs a session for which the mean of
// all sessions is known best for the time that sessions and runs take:
//
//	m = sqrt(sessionCost / runCost) * sqrt(within / between)
//
// (Cochran 1977, Sampling Techniques, section 10.6, with many runs to choose
// from). between and within are variances as of VarianceComponents;
// sessionCost is what a session takes before its first run and runCost what a
// run takes, both in one unit. The result is not rounded and may lie below 1.
// It is 0 where runs of a session do not differ, else +Inf where sessions do
// not. It panics unless runCost is above 0 and the others are at least 0.
func RunsPerSession(between, within, sessionCost, runCost float64) float64 {
	if !(between >= 0 && within >= 0 && sessionCost >= 0 && runCost > 0) {
		panic("plan: a variance or cost below 0, or runs that cost nothing")
	}
	if within == 0 {
		return 0
	}
	return math.Sqrt(sessionCost / runCost * within / between)
}
